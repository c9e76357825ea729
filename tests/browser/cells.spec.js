// By age and season: the owner goes there from the month, looks at one cause alone, and takes its table along.
import { readFile } from 'node:fs/promises';
import { expect, noViolations, signIn, test } from './support/shop.js';

test('a cause is looked at by age and season together', async ({ page, shop }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'owner');
  await page.goto('/month?from=2025-02&to=2026-01');
  await page.getByRole('link', { name: 'By age and season together' }).click();
  await expect(page.getByRole('heading', { level: 1 })).toHaveText('By age and season');
  const list = page.locator('#cells tbody tr');
  await expect(list).toHaveCount(40);
  for (const link of await page.locator('.report-part.lead a').all()) {
    await expect(page.locator(await link.getAttribute('href'))).toBeVisible();
  }
  await noViolations(page);
  await page.getByLabel('Cause').selectOption('seam_open_lower');
  await page.getByRole('button', { name: 'Show' }).click();
  await expect(page.getByRole('heading', { name: 'Age beside season' })).toBeVisible();
  const shown = await list.count();
  expect(shown).toBeGreaterThan(5);
  await noViolations(page);
  const waiting = page.waitForEvent('download');
  await page.getByRole('link', { name: 'All of them as CSV' }).click();
  const [, ...rows] = (await readFile(await (await waiting).path(), 'utf8')).trim().split('\n');
  expect(rows.length).toBe(shown);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  expect(wide).toBe(0);
});
