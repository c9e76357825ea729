// The second pair of ears: the counter asks, the bench looks where it is sent, and the drawing says the same as the list.
import { expect, noViolations, signIn, test } from './support/shop.js';
import { takeIn } from './support/take_in.js';

const HEARD = { open_or_stopped: 'open_only', character: 'metallic', which_strings: 'one' };
const first = (page) => page.locator('.guess:not(.alike)').first();

test('the counter asks, the bench says not this, then found it', async ({ page, shop }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Walburga Quandtner', words: 'It rattles on the open A.', answers: HEARD });
  await page.goto(order);
  await expect(page.locator('.order-seen .big')).toContainText(/Look next for .* at the counter/);
  await noViolations(page);
  const asked = page.locator('#answers > fieldset').first();
  const question = await asked.locator('legend').innerText();
  await asked.getByRole('button', { name: 'No', exact: true }).click();
  await expect(page.locator('#answers > fieldset legend', { hasText: question })).toHaveCount(0);
  await expect(page.locator('.story')).toContainText('Answered, ');

  await page.context().clearCookies();
  await signIn(page, shop, 'bench');
  await page.goto(order);
  const before = await first(page).locator('.cause-name').innerText();
  await first(page).locator('summary').click();
  await expect(first(page)).toContainText('speaks');
  await noViolations(page);
  await first(page).getByRole('button', { name: 'Not this' }).click();
  await expect(first(page).locator('.cause-name')).not.toHaveText(before);
  const found = await first(page).locator('.cause-name').innerText();
  await first(page).getByRole('button', { name: 'Found it' }).click();
  await expect(page.locator('.order-seen')).toContainText('confirmed');
  await expect(page.locator('section[aria-labelledby="checks"]')).toContainText(`Confirmed: ${found}`);
  await expect(page.locator('.whole .pin')).toHaveCount(1);
  await expect(page.locator('#next')).toContainText('say what is to be done');
  await noViolations(page);
});

test('the drawing is walked with the keyboard, and leads to the causes of a place', async ({ page, shop }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, { name: 'Notburga Quandtner', words: 'It rattles on the open D.', answers: HEARD });
  await page.goto(order);
  const spots = page.locator('.whole .spot:not([tabindex])');
  const names = await spots.evaluateAll((all) => all.map((spot) => spot.getAttribute('aria-label')));
  expect(names.length).toBeGreaterThan(10);
  expect(new Set(names).size, 'each place once').toBe(names.length);
  await spots.first().focus();
  for (const name of names.slice(1)) {
    await page.keyboard.press('Tab');
    expect(await page.evaluate(() => document.activeElement.getAttribute('aria-label'))).toBe(name);
  }
  const nut = page.locator('.whole .spot[href="#region-nut"]:not([tabindex])');
  await nut.focus();
  await page.keyboard.press('Enter');
  await expect(page.locator('#region-nut')).toBeVisible();
  await expect(page.locator('#region-nut .cause').first()).toBeInViewport();
  await noViolations(page);
  await page.goto('/catalogue?family=cello');
  await page.locator('.whole .spot[href="#r-bridge"]:not([tabindex])').press('Enter');
  await expect(page).toHaveURL(/#r-bridge$/);
  await noViolations(page);
});
