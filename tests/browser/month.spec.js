// The owner's evening: the month on the screen, on paper and as a table for elsewhere.
import { readFile } from 'node:fs/promises';
import { expect, noViolations, signIn, test } from './support/shop.js';

test('the month is read, taken along and printed', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/month?from=2026-01&to=2026-01');
  await expect(page.getByRole('heading', { level: 1 })).toContainText('January 2026');
  await expect(page.locator('main')).toContainText(/\d+ orders received in January 2026 were inspected/);
  await expect(page.locator('main')).toContainText('How it is counted');
  await noViolations(page);
  const waiting = page.waitForEvent('download');
  await page.locator('a[href*="table=causes"]').first().click();
  const csv = await readFile(await (await waiting).path(), 'utf8');
  expect(csv.split('\n')[0]).toContain('cause');
  expect(csv.trim().split('\n').length).toBeGreaterThan(2);
  const pdf = await page.pdf({ preferCSSPageSize: true });
  const pages = pdf.toString('latin1').match(/\/Type\s*\/Page\b/g).length;
  expect(pages).toBeLessThanOrEqual(2);
  await page.goto('/month?from=2025-02&to=2026-01');
  await expect(page.locator('main')).toContainText('inspected');
  await noViolations(page);
});

test('the counter does not see the month', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 403 /);
  await signIn(page, shop, 'counter');
  await page.goto('/month');
  await expect(page.locator('main')).toContainText('Ask the owner');
  await noViolations(page);
});
