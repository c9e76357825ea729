// One look: whatever the stage, the complaint, the answers, the instrument and what is next stand on the first screen.
import { expect, noViolations, signIn, test } from './support/shop.js';
import { takeIn } from './support/take_in.js';

const LONG = 'It buzzes on the low strings since the heating was turned on, worst in the evening, and on Tuesday in the rehearsal the whole section heard it, so that the stand partner asked whether something had come loose inside.';

test('an order reads at one look in every stage', async ({ page, shop }) => {
  test.setTimeout(180_000);
  const foot = page.locator('.foot');
  const act = (name) => foot.getByRole('button', { name, exact: true });
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Walburga Quandtner', words: LONG, limit: '10', answers: { which_strings: 'one' } });

  const reads = async (stage, main = true) => {
    await page.goto(order);
    await expect(page.locator('.order-stage')).toContainText(stage);
    await expect(page.locator('.order-look .said')).toContainText('It buzzes on the low strings');
    await expect(page.locator('.in-short')).toContainText('B4');
    const { height } = page.viewportSize();
    const strip = (await foot.boundingBox()).y;
    for (const part of ['.order-what h1', '.order-look .said', '.in-short', '.been-here', '#next']) {
      const box = await page.locator(part).boundingBox();
      expect(box.y + box.height, `${part}, ${stage}: above the strip at the foot`).toBeLessThanOrEqual(strip);
      expect(box.y).toBeGreaterThanOrEqual(0);
    }
    if (!main) return;
    const button = await foot.locator('.act.main').boundingBox();
    expect(button.y + button.height, `the main act, ${stage}`).toBeLessThanOrEqual(height);
  };

  await reads('Taken in');
  await noViolations(page); // the other stages are looked over in the journey of the job
  const said = page.locator('.order-look .said');
  const folded = (await said.boundingBox()).height;
  await said.click();
  expect((await said.boundingBox()).height, 'the rest on tap').toBeGreaterThan(folded);

  await page.context().clearCookies();
  await signIn(page, shop, 'bench');
  await reads('Taken in');
  await foot.getByRole('link', { name: 'Look at it' }).click();
  await act('Not this').click();
  await reads('Being looked at');
  await act('Found it').click();
  await expect(page.locator('#next')).toContainText('say what is to be done');
  await reads('Being looked at');
  await foot.getByRole('link', { name: /^(Something else|Plan a step)$/ }).click();
  await page.locator('#step-job').selectOption('new_nut');
  await act('Plan it').click();
  await reads('Waiting for an answer');
  await act('Go ahead').click();
  await reads('Go ahead');
  await page.goto(`${order}?open=step#plan`);
  await page.locator('#step-title').fill('Tuck the string end');
  await page.locator('#step-planned_minutes').fill('0');
  await page.locator('button[form="step"]').first().click();
  await act('Done').click();
  await reads('In repair');
  await act('Done').click();
  await reads('To be played');
  await act('Quiet').click();
  await reads('Ready', false);
  await page.context().clearCookies();
  await signIn(page, shop, 'counter');
  await reads('Ready');
  await foot.getByRole('link', { name: 'Hand it back' }).click();
  await page.locator('[name="method"][value="card"][form="pickup"]').check();
  await act('Hand it back').click();
  await expect(page).toHaveURL(/handed/);
  await reads('Collected', false);
});
