// Every picture of the reports is read in grey: printed without colour, by eyes that see none, and on a dark screen.
import { expect, readableInGrey, signIn, test } from './support/shop.js';

test.skip(({ viewport }) => viewport.width < viewport.height, 'grey is the same however the tablet is held');

const LOOKS = [
  { media: 'screen', colorScheme: 'light' },
  { media: 'screen', colorScheme: 'dark' },
  { media: 'print', colorScheme: 'light' },
];

for (const [path, pictures, lines] of [
  ['/month?from=2025-02&to=2026-01', 3, 0],
  ['/comebacks', 1, 2],
  ['/comebacks?by=season', 1, 2],
  ['/air?width_mm=440&wood=spruce&cut=quarter', 2, 3],
]) {
  test(`${path} is read in grey`, async ({ page, shop }) => {
    await signIn(page, shop, 'owner');
    await page.goto(path);
    for (const look of LOOKS) {
      await page.emulateMedia(look);
      const seen = await readableInGrey(page, { pictures });
      expect(seen.lines, `lines in ${path}`).toBeGreaterThanOrEqual(lines);
    }
  });
}

test('the tints of the heat map and of the drawing are told apart in grey', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/');
  const orders = await page.locator('a.row[href^="/orders/"]').evaluateAll((rows) => rows.map((row) => row.getAttribute('href')));
  let drawn;
  for (const order of orders) {
    await page.goto(order);
    if (await page.locator('.tints').count()) {
      drawn = order;
      break;
    }
  }
  expect(drawn, 'an order with a tinted drawing').toBeTruthy();
  for (const path of ['/month?from=2025-02&to=2026-01', drawn]) {
    await page.goto(path);
    for (const look of LOOKS) {
      await page.emulateMedia(look);
      const { tints } = await readableInGrey(page, { pictures: 0 });
      expect(tints.length, `legends of ${path}`).toBeGreaterThan(0);
      for (const legend of tints) expect(legend.tints.length, legend.where).toBeGreaterThan(3);
    }
  }
});
