// Papers: each one page, of its size, with the number on it.
import { expect, noViolations, paper, signIn, test } from './support/shop.js';

const LABEL = { width: 100, height: 62 };
const LABEL_4X6 = { width: 101.6, height: 152.4 };
const A4 = { width: 210, height: 297 };
const LETTER = { width: 215.9, height: 279.4 };

test.skip(({ viewport }) => viewport.width < viewport.height, 'paper is the same however the tablet is held');

test('tag, stub and summary of an order come out at their size, one page each', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await page.goto('/');
  const order = await page.locator('a.row[href^="/orders/"]').first().getAttribute('href');
  const spoken = (await page.locator('a.row[href^="/orders/"] .tag').first().innerText()).trim();
  for (const kind of ['tag', 'stub']) {
    expect(await paper(page, `${order}/${kind}?size=label`, LABEL)).toContain(spoken);
    expect(await paper(page, `${order}/${kind}?size=label4x6`, LABEL_4X6)).toContain(spoken);
    expect(await paper(page, `${order}/${kind}?size=a6&sheet=a4`, A4)).toContain(spoken);
    expect(await paper(page, `${order}/${kind}?size=a6&sheet=letter`, LETTER)).toContain(spoken);
  }
  for (const large of ['', '&large=yes']) {
    expect(await paper(page, `${order}/summary?sheet=a4${large}`, A4)).toContain(spoken);
    expect(await paper(page, `${order}/summary?sheet=letter${large}`, LETTER)).toContain('Come back');
  }
  await paper(page, '/papers/ruler?sheet=a4', A4);
  await paper(page, '/papers/ruler?sheet=letter', LETTER);
});

test('what is on a paper stays within it', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await page.goto('/');
  const orders = await page.locator('a.row[href^="/orders/"]').evaluateAll((rows) => rows.slice(0, 12).map((row) => row.getAttribute('href')));
  expect(orders.length).toBeGreaterThan(0);
  for (const order of orders) {
    for (const size of ['label', 'label4x6', 'a6']) {
      for (const kind of ['tag', 'stub']) {
        await page.goto(`${order}/${kind}?size=${size}`);
        const over = await page.locator('.sheet, .slip').evaluateAll((sheets) => sheets.map((sheet) => [sheet.scrollWidth - sheet.clientWidth, sheet.scrollHeight - sheet.clientHeight]));
        expect(over.length, `sheets of ${kind}, ${size}`).toBeGreaterThan(0);
        for (const [across, down] of over) expect(Math.max(across, down), `${order}/${kind}?size=${size}`).toBeLessThanOrEqual(1);
      }
    }
  }
});

test('the pages of the papers can be used by everybody', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await page.goto('/');
  const order = await page.locator('a.row[href^="/orders/"]').first().getAttribute('href');
  for (const path of ['papers', 'tag', 'stub?size=a6', 'summary', 'pickup']) {
    await page.goto(`${order}/${path}`);
    await noViolations(page);
  }
});
