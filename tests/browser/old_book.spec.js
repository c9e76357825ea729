// The old book: the owner of a new shop hands its history over, hears what is not right, and brings in what is.
import { readFileSync } from 'node:fs';
import { expect, noViolations, signIn, test } from './support/shop.js';

const sample = readFileSync(new URL('../data/old_book.csv', import.meta.url), 'utf8').trimEnd();
const columns = sample.split('\n')[0].split(',');

// A line of the sample's shape.
const line = (cells) => columns.map((column) => cells[column] ?? '').join(',');

async function choose(page, text) {
  await page.goto('/settings');
  await page.getByRole('link', { name: 'The old book' }).click();
  await page.getByLabel('A table of visits, as CSV').setInputFiles({ name: 'book.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
  await page.getByRole('button', { name: 'Try it' }).click();
  await expect(page).toHaveURL(/\/old_book\/[0-9a-f-]{36}$/);
}

test('a file is tried, told line by line, brought in, and never twice', async ({ page, shop, complaints }) => {
  test.slow(); // axe looks at long pages several times
  complaints.expect(/^console: Failed to load resource: .* status of 422 /);
  await signIn(page, shop, 'owner');
  await page.goto('/old_book');
  await noViolations(page);
  await page.getByRole('button', { name: 'Try it' }).click();
  await expect(page.locator('.problems')).toContainText('Choose a file first.');
  await noViolations(page);

  const visit = { customer: 'Rosalinde Quandtner', instrument: 'Red label', family: 'violin' };
  const amiss = [line({ ...visit, received_on: '28.3.2019', collected_on: '2019-04-02' }),
    line({ ...visit, received_on: '2019-05-02', collected_on: '2019-05-03', confirmed: '<b>seam</b>' })];
  await choose(page, `${sample}\n${amiss.join('\n')}\n`);
  await expect(page.locator('h2#amiss')).toHaveText('2 lines not right');
  await expect(page.locator('main')).toContainText('Nothing is stored yet.');
  const table = page.getByRole('region', { name: 'Lines that are not right' });
  await expect(table).toContainText('Write the day as 2019-03-28.');
  await expect(table, 'as text').toContainText('<b>seam</b>');
  await noViolations(page);
  const coming = page.waitForEvent('download');
  await page.getByRole('link', { name: 'All of them as CSV' }).click();
  expect((await coming).suggestedFilename()).toBe('not-brought-in.csv');

  await page.getByRole('button', { name: 'Take the right lines alone' }).click();
  await expect(page.locator('.just')).toContainText('brought in.');
  await noViolations(page);
  await page.goto('/');
  await page.locator('#find').fill('Ilse Marbach');
  await page.locator('#find').press('Enter');
  await expect(page.locator('main')).toContainText('Ilse Marbach');

  await choose(page, sample);
  await expect(page.locator('main')).toContainText('There is nothing in it to bring in.');
  await expect(page.locator('main')).toContainText('brought in before');
  await page.getByRole('button', { name: 'Put it away' }).click();
  await expect(page).toHaveURL(/\/old_book$/);
  await expect(page.locator('aside')).toContainText('put away, not brought in');
  await noViolations(page);
});

test('a long file shows how far it is, and goes on when nobody looks', async ({ page, shop }) => {
  test.setTimeout(120_000);
  await signIn(page, shop, 'owner');
  const lines = Array.from({ length: 4000 }, (_, at) => line({
    received_on: '2015-03-02', collected_on: '2015-03-09', customer: `Visitor ${at}`, instrument: 'One', family: 'cello',
  }));
  await choose(page, [columns.join(','), ...lines].join('\n'));
  await expect(page.locator('main')).toContainText('4,000 visits are right.', { timeout: 60_000 });
  await page.getByRole('button', { name: 'Bring all 4,000 in' }).click();
  await expect(page.locator('[data-under-way] progress')).toBeVisible();
  await noViolations(page);
  const address = page.url();
  await page.goto('/');
  await page.goto(address);
  await expect(page.locator('.just')).toContainText('4,000 visits brought in.', { timeout: 60_000 });
});

test.describe('without script', () => {
  test.use({ javaScriptEnabled: false });

  test('the page loads itself anew until the file is through', async ({ page, shop }) => {
    test.setTimeout(120_000);
    await signIn(page, shop, 'owner');
    const lines = Array.from({ length: 3000 }, (_, at) => line({
      received_on: '2014-03-03', collected_on: '2014-03-10', customer: `Caller ${at}`, instrument: 'One', family: 'viola',
    }));
    await choose(page, [columns.join(','), ...lines].join('\n'));
    await expect(page.locator('main')).toContainText('3,000 visits are right.', { timeout: 60_000 });
    await page.getByRole('button', { name: 'Put it away' }).click();
    await expect(page).toHaveURL(/\/old_book$/);
  });
});
