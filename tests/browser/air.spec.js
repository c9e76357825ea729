// The air: the bench reads the hygrometer in with two fields and a tap; the owner reads the year.
import { expect, noViolations, signIn, test } from './support/shop.js';

test('a reading is typed, a file is brought in, and the year is read', async ({ page, shop }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'bench');
  await page.goto('/');
  await page.getByRole('link', { name: 'Read the hygrometer' }).click();
  await page.getByLabel('Relative humidity, %').fill('38');
  await page.getByLabel('Temperature, °C').fill('20,5');
  await page.getByRole('button', { name: 'Keep it' }).click();
  await expect(page.locator('.just')).toContainText('Kept: 20.5 °C, 38 %');
  await expect(page.locator('.just')).toContainText('wood goes to 7.4 %');
  await noViolations(page);
  const file = 'at,temperature_c,relative_humidity\n2019-03-01 09:00,20,40\n2019-03-01 10:00,20,140\n';
  await page.getByLabel('A table of readings, as CSV').setInputFiles({ name: 'air.csv', mimeType: 'text/csv', buffer: Buffer.from(file) });
  await page.getByRole('button', { name: 'Bring it in' }).click();
  await expect(page.getByRole('status')).toContainText('1 reading brought in');
  await expect(page.getByRole('status')).toContainText('Line 3: Write the relative humidity');
  await noViolations(page);

  await page.context().clearCookies();
  await signIn(page, shop, 'owner');
  await page.goto('/air');
  await expect(page.locator('.lead')).toContainText('A cello belly 440 mm wide would like to be');
  await expect(page.locator('svg.chart .curve').first()).toBeVisible();
  await noViolations(page);
});
