// The air: the bench reads the hygrometer in with two fields and a tap; the owner reads the year, and asks of a plate.
import { readFile } from 'node:fs/promises';
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

test('the owner asks how far a plate would move, with a customer beside', async ({ page, shop, complaints }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'owner');
  await page.goto('/air');
  // A plate of the table is a tap away.
  await page.getByRole('link', { name: 'Cello belly, 440 mm' }).click();
  await expect(page.getByLabel('Width, mm')).toHaveValue('440');
  const told = page.locator('.plate-told');
  await expect(told).toContainText('A plate of spruce on the quarter, 440 mm wide,');
  await expect(told).toBeInViewport();
  await expect(told.locator('svg.chart')).toBeVisible();
  // The customer's own, in the customer's own room.
  await page.getByLabel('Width, mm').fill('wide');
  await page.getByLabel('Wood', { exact: true }).selectOption('maple');
  await page.getByLabel('Cut').selectOption('slab');
  complaints.expect(/status of 422/);
  await page.getByRole('button', { name: 'How far would it move?' }).click();
  await expect(page.locator('.problems')).toContainText('Write the width in millimetres');
  await expect(page.getByLabel('Width, mm')).toHaveValue('wide');
  await expect(page.getByLabel('Wood', { exact: true })).toHaveValue('maple');
  await noViolations(page);
  await page.getByLabel('Width, mm').fill('208');
  await page.getByText('In another air').click();
  await page.getByLabel('From a humidity, %').fill('60');
  await page.getByLabel('to a humidity, %').fill('40');
  await page.getByRole('button', { name: 'How far would it move?' }).click();
  // 208 mm of sugar maple on the slab, 0.00353 a percent, from 11.0 to 7.7 % of moisture: Wood Handbook, tables 13-5 and 4-2.
  await expect(told).toContainText('would like to be 2.4 mm narrower');
  await expect(told).toContainText('24 tenths of a millimetre');
  await expect(page.locator('.caution')).toContainText('What cannot move, cracks or opens.');
  await noViolations(page);
});

test('each sentence of the air leads to its table, and each table is taken along', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/air');
  const links = page.locator('.report-part.lead a[href^="#"]');
  expect(await links.count()).toBeGreaterThan(1);
  for (const link of await links.all()) await expect(page.locator(await link.getAttribute('href'))).toBeVisible();
  const tables = page.locator('a[href^="/air.csv"]');
  const names = await tables.allInnerTexts();
  expect(names).toEqual(expect.arrayContaining(['days', 'earlier', 'plates', 'causes']));
  for (const table of names) {
    const waiting = page.waitForEvent('download');
    await tables.filter({ hasText: new RegExp(`^${table}$`) }).click();
    const [head] = (await readFile(await (await waiting).path(), 'utf8')).trim().split('\n');
    expect(head, table).toContain(',');
  }
});
