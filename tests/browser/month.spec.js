// The owner's evening: the month on the screen, on paper and as a table for elsewhere.
import { readFile } from 'node:fs/promises';
import { expect, noViolations, signIn, test } from './support/shop.js';

test('the month is read, and each of its tables taken along', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/month?from=2026-01&to=2026-01');
  await expect(page.getByRole('heading', { level: 1 })).toContainText('January 2026');
  await expect(page.locator('main')).toContainText(/\d+ orders received in January 2026 were inspected/);
  await expect(page.locator('main')).toContainText('How it is counted');
  await noViolations(page);
  const links = page.locator('#counted a[href*="/month.csv"]');
  const tables = await links.allInnerTexts();
  expect(tables).toEqual([
    'causes', 'course', 'lately', 'comebacks', 'money', 'jobs', 'years', 'inspected', 'ages', 'heat', 'year', 'seasons', 'cells', 'months',
  ]);
  // Each picture and each table has its own beside it.
  const beside = await page.locator('.report a[href*="/month.csv"]').allTextContents();
  for (const table of tables.slice(0, -2)) expect(beside, table).toContain(`${table}.csv`);
  for (const table of tables) {
    const waiting = page.waitForEvent('download');
    await links.filter({ hasText: new RegExp(`^${table}$`) }).click();
    const download = await waiting;
    expect(download.suggestedFilename()).toContain(table);
    const [head, ...rows] = (await readFile(await download.path(), 'utf8')).trim().split('\n');
    expect(head, `the head of ${table}`).toContain(',');
    expect(rows.length, `rows of ${table}`).toBeGreaterThan(0);
    if (table === 'causes') expect(head).toContain('cause');
  }
});

test('each sentence leads to the table its figures stand in, folded away or not', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  for (const asked of ['from=2026-01&to=2026-01', 'from=2025-02&to=2026-01', 'from=2025-02&to=2026-01&family=violin']) {
    await page.goto(`/month?${asked}`);
    const sentences = page.locator('.report-part.lead p');
    const count = await sentences.count();
    expect(count, asked).toBeGreaterThanOrEqual(3);
    expect(count, asked).toBeLessThanOrEqual(5);
    for (const sentence of await sentences.all()) await expect(sentence.locator('a').first()).toBeVisible();
    for (const link of await sentences.locator('a').all()) {
      const to = page.locator(await link.getAttribute('href'));
      await link.click();
      await expect(to, await link.innerText()).toBeVisible();
      await expect(to, await link.innerText()).toBeInViewport();
    }
  }
});

test('a month that was reported is shown as it was, with its own tables', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/month?from=2025-11&to=2025-11');
  await page.getByRole('button', { name: 'Keep as reported' }).click();
  await expect(page.locator('main')).toContainText('Nothing was corrected since.');
  await page.locator('main a[href*="reported="]').first().click();
  await expect(page.locator('main')).toContainText('As it was reported on');
  for (const link of await page.locator('.report a[href*="/month.csv"]').all()) {
    expect(await link.getAttribute('href')).toContain('&reported=');
  }
  await noViolations(page);
  await page.getByRole('link', { name: 'Show it as it is now' }).click();
  await expect(page.locator('main')).toContainText('Nothing was corrected since.');
});

test('a month says what it found in sentences and tables, and how it was counted', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/month?from=2026-01&to=2026-01');
  const sentences = page.locator('.report-part.lead p');
  expect(await sentences.count()).toBeGreaterThan(1);
  const first = await sentences.first().innerText();
  const inspected = Number(/^(\d+) orders received in January 2026 were inspected/.exec(first)?.[1]);
  expect(inspected, first).toBeGreaterThan(0);
  // Each row of the table says its part of the same whole.
  const counts = await page.locator('table.bars').first().locator('tbody tr td.num').allInnerTexts();
  expect(counts.length).toBeGreaterThan(0);
  for (const count of counts) {
    const [, part, whole] = /^(\d+) of (\d+)/.exec(count) ?? [];
    expect(Number(part), count).toBeGreaterThan(0);
    expect(Number(part), count).toBeLessThanOrEqual(Number(whole));
    expect(Number(whole), count).toBeLessThanOrEqual(inspected);
  }
  for (const heading of ['Comebacks and money', 'Cause by age', 'Cause by month', 'Minutes']) {
    await expect(page.getByRole('heading', { name: heading })).toBeVisible();
  }
  const words = page.locator('dl.counted dt');
  expect(await words.count()).toBeGreaterThan(3);
  for (const meaning of await page.locator('dl.counted dd').allInnerTexts()) expect(meaning.length).toBeGreaterThan(10);
});

for (const [asked, span] of [['from=2026-01&to=2026-01', 'a month'], ['from=2025-02&to=2026-01', 'a year']]) {
  test(`${span} prints on at most two pages`, async ({ page, shop }) => {
    await signIn(page, shop, 'owner');
    await page.goto(`/month?${asked}`);
    await expect(page.locator('.report-part.lead')).toContainText('inspected');
    await noViolations(page);
    // It has no size of its own: it is printed on what lies in the printer.
    for (const format of ['A4', 'Letter']) {
      const pdf = await page.pdf({ preferCSSPageSize: true, format });
      const pages = pdf.toString('latin1').match(/\/Type\s*\/Page\b/g).length;
      expect(pages, format).toBeLessThanOrEqual(2);
    }
  });
}

test('the counter does not see the month', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 403 /);
  await signIn(page, shop, 'counter');
  await page.goto('/month');
  await expect(page.locator('main')).toContainText('Ask the owner');
  await noViolations(page);
});
