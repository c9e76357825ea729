// The bench, when it does not go straight through: a hold, a no, and back to the counter unrepaired.
import { expect, noViolations, signIn, test } from './support/shop.js';
import { takeIn } from './support/take_in.js';

const act = (page, name) => page.locator('.foot').getByRole('button', { name, exact: true });

test('what the customer does not want done goes back as it came', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Adelgunde Quandtner', words: 'It buzzes on B4.' });
  await page.context().clearCookies();
  await signIn(page, shop, 'bench');
  await page.goto('/bench');
  await page.locator(`a.row[href="${order}"]`).click();
  await page.locator('.foot').getByRole('link', { name: 'Look at it' }).click();
  const cause = await page.locator('.foot-says b').innerText();
  await act(page, 'Found it').click();
  await expect(page.locator('section[aria-labelledby="checks"]')).toContainText(cause);
  await page.locator('.foot').getByRole('link', { name: /^(Something else|Plan a step)$/ }).click();
  await page.locator('#step-job').selectOption('new_nut');
  await act(page, 'Plan it').click();
  await expect(page.locator('.order-stage'), 'no limit was agreed').toContainText('Waiting for an answer');
  await expect(page.locator('section[aria-labelledby="money"]')).toContainText('Over what was agreed');
  await act(page, 'Leave it').click();
  await expect(page.locator('.order-stage')).toContainText('Goes back unrepaired');
  await noViolations(page);
  await page.goto('/bench');
  await expect(page.locator(`a.row[href="${order}"]`), 'off the bench').toHaveCount(0);
  await page.goto('/');
  const home = page.locator('section[aria-labelledby="to-hand-back"]');
  await expect(home.locator(`a.row[href="${order}"]`)).toContainText('going home unrepaired');
});

test('a held instrument says until when and why, and can be let go', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Kunibert Quandtner', words: 'The seam is open.', limit: '500' });
  await page.context().clearCookies();
  await signIn(page, shop, 'bench');
  await page.goto(`${order}?open=step#steps`);
  await page.locator('#step [name="title"]').fill('Glue the seam');
  await page.locator('#step [name="planned_minutes"]').fill('20');
  await page.locator('button[form="step"]').first().click();
  await expect(act(page, 'Done'), 'within the limit nobody is asked').toBeVisible();
  await page.locator('.foot').getByRole('link', { name: 'Hold it' }).click();
  await noViolations(page);
  await page.locator('#hold-why').fill('clamp on the upper bout');
  await page.locator('#hold [name="until"][value="tomorrow"]').check();
  await page.locator('#hold').getByRole('button', { name: 'Hold it' }).click();
  await expect(page.locator('.order-stage .till')).toContainText(/until .*9:00/);
  await expect(page.locator('#hold-off')).toContainText('clamp on the upper bout');
  await noViolations(page);
  await page.goto('/bench');
  await expect(page.locator(`a.row[href="${order}"] .till`)).toBeVisible();
  await noViolations(page);
  await page.goto(order);
  await page.getByRole('button', { name: 'Take the hold off' }).click();
  await expect(page.locator('.order-stage .till')).toHaveCount(0);
});
