// Time and money: the owner finds it below the month, reads it, takes its tables along, and prints it.
import { readFile } from 'node:fs/promises';
import { expect, noViolations, signIn, test } from './support/shop.js';

test('time and money are found below the month, read, and taken along', async ({ page, shop }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'owner');
  await page.goto('/month');
  await page.getByRole('link', { name: 'Time and money' }).click();
  await expect(page.getByRole('heading', { level: 1 })).toHaveText('Time and money');
  const sentences = page.locator('.report-part.lead p');
  expect(await sentences.count()).toBeGreaterThan(2);
  // Each sentence leads to its table.
  for (const link of await sentences.locator('a').all()) {
    await expect(page.locator(await link.getAttribute('href'))).toBeVisible();
  }
  for (const heading of ['Minutes', 'Where orders wait', 'Charged, taken, owed', 'What causes cost', 'Parts to stock']) {
    await expect(page.getByRole('heading', { name: heading })).toBeVisible();
  }
  for (const summary of await page.locator('details summary').all()) await summary.click();
  await noViolations(page);
  const links = page.locator('a[href*="/work.csv"]');
  const tables = await links.allInnerTexts();
  expect(tables).toEqual(['minutes', 'steps', 'stages', 'days', 'months', 'owing', 'causes', 'parts']);
  for (const table of tables) {
    const waiting = page.waitForEvent('download');
    await links.filter({ hasText: new RegExp(`^${table}$`) }).click();
    const [head, ...rows] = (await readFile(await (await waiting).path(), 'utf8')).trim().split('\n');
    expect(head, `the head of ${table}`).toContain(',');
    expect(rows.length, `rows of ${table}`).toBeGreaterThan(0);
  }
});

test('time and money print on at most two pages', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/work');
  for (const format of ['A4', 'Letter']) {
    const pdf = await page.pdf({ preferCSSPageSize: true, format });
    expect(pdf.toString('latin1').match(/\/Type\s*\/Page\b/g).length, format).toBeLessThanOrEqual(2);
  }
});
