// One instrument through the whole job: taken in, hunted, mended, played, handed back.
import { expect, noViolations, paper, signIn, test } from './support/shop.js';
import { takeIn } from './support/take_in.js';

test('from the counter over the bench and home again', async ({ page, shop }) => {
  test.setTimeout(90_000);
  const act = (name) => page.locator('.foot').getByRole('button', { name, exact: true });
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Rosalind Quandtner', words: 'It buzzes on B4.', limit: '10', answers: { which_strings: 'one' } });

  await page.context().clearCookies();
  await signIn(page, shop, 'bench');
  await page.goto('/bench');
  await noViolations(page);
  await page.locator(`a.row[href="${order}"]`).click();
  await expect(page.locator('.order-stage')).toContainText('Taken in');
  await expect(page.locator('main'), 'the bench is not told who it is').not.toContainText('Quandtner');
  await noViolations(page);
  await page.locator('.foot').getByRole('link', { name: 'Look at it' }).click();
  const ruledOut = await page.locator('.foot-says b').innerText();
  await noViolations(page);
  await act('Not this').click();
  await expect(page.locator('.order-stage')).toContainText('Being looked at');
  await expect(page.locator('section[aria-labelledby="checks"] .step.done')).toContainText(ruledOut);
  await expect(page.locator('.foot-says b'), 'another cause is next').not.toHaveText(ruledOut);
  await act('Found it').click();
  await expect(page.locator('#next')).toContainText('say what is to be done');
  await noViolations(page);

  // Dearer than agreed: the customer is asked.
  await page.locator('.foot').getByRole('link', { name: /^(Something else|Plan a step)$/ }).click();
  await noViolations(page);
  await page.locator('#step-job').selectOption('new_nut');
  await act('Plan it').click();
  await expect(page.locator('.order-stage')).toContainText('Waiting for an answer');
  await noViolations(page);
  await act('Go ahead').click();
  await expect(page.locator('.order-stage')).toContainText('Go ahead');
  await noViolations(page);
  await page.locator('[name="actual_minutes"]').first().fill('61');
  await act('Done').click();
  await expect(page.locator('.order-stage')).toContainText('To be played');
  await noViolations(page);
  await act('Still buzzes').click();
  await expect(page.locator('.order-stage')).toContainText('Being looked at');
  await expect(page.locator('main')).toContainText('1 h 01');
  await page.goto(`${order}?open=step#steps`);
  await page.locator('#step [name="title"]').fill('Tuck the string end');
  await page.locator('#step [name="planned_minutes"]').fill('0');
  await page.locator('button[form="step"]').first().click();
  await page.locator('[name="actual_minutes"]').first().fill('3');
  await act('Done').click();
  await noViolations(page);
  await act('Quiet').click();
  await expect(page.locator('.order-stage')).toContainText('Ready');
  await noViolations(page);

  await page.context().clearCookies();
  await signIn(page, shop, 'counter');
  await page.goto(order);
  await page.locator('.foot').getByRole('link', { name: 'Hand it back' }).click();
  await noViolations(page);
  await page.locator('[name="method"][value="card"][form="pickup"]').check();
  await act('Hand it back').click();
  await expect(page).toHaveURL(new RegExp(`${order}/handed`));
  await noViolations(page);
  const text = await paper(page, `${order}/summary?sheet=a4`, { width: 210, height: 297 });
  for (const said of ['It buzzes on B4.', 'nut', 'Tuck the string end', 'Together']) expect(text).toContain(said);
  await paper(page, `${order}/summary?sheet=a4&large=yes`, { width: 210, height: 297 });
});

test('a change on an old page is told and what was typed stays', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 412 /);
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Balduin Quandtner', words: 'It hums.', limit: '' });
  await page.goto(`${order}?open=step#steps`);
  await page.locator('#step [name="title"]').fill('Clean the strings');
  await page.locator('#step [name="planned_minutes"]').fill('12');
  const other = await page.context().newPage();
  await other.goto(`${order}?open=step#steps`);
  await other.locator('#step [name="title"]').fill('Something else');
  await other.locator('#step [name="planned_minutes"]').fill('5');
  await other.locator('button[form="step"]').first().click();
  await expect(other.locator('main')).toContainText('Something else');
  await page.locator('button[form="step"]').first().click();
  await expect(page.locator('main')).toContainText('Somebody else changed this order');
  await expect(page.locator('#step [name="title"]')).toHaveValue('Clean the strings');
  await noViolations(page);
});
