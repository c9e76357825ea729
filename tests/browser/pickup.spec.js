// Pickup: what is ready on Today goes home, with or without all of the money.
import { expect, noViolations, paper, signIn, test } from './support/shop.js';

const A4 = { width: 210, height: 297 };
const cents = (words) => Number(words.replace(/[^\d]/g, ''));
const act = (page) => page.locator('.foot').getByRole('button', { name: 'Hand it back', exact: true });

// The first on Today that is ready and for which money is owed, opened at its pickup. Answers its address.
async function owing(page) {
  await page.goto('/');
  const ready = page.locator('section[aria-labelledby="to-hand-back"] a.row', { hasText: 'ready since' });
  for (const order of await ready.evaluateAll((rows) => rows.map((row) => row.getAttribute('href')))) {
    await page.goto(`${order}/pickup`);
    if ((await page.locator('#paid').count()) === 1) return order;
  }
  throw new Error('Nothing on Today is ready with money owed for it.');
}

async function tickAll(page) {
  for (const tick of await page.locator('[name="back"]').all()) await tick.check();
}

test('it is handed back against the money, and the summary is one page', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  const order = await owing(page);
  const owed = cents(await page.locator('.owed').innerText());
  expect(owed).toBeGreaterThan(0);
  expect(cents(await page.locator('#paid').inputValue()), 'what is owed stands in the field').toBe(owed);
  await noViolations(page);
  await tickAll(page);
  await page.locator('[name="method"][value="cash"][form="pickup"]').check();
  await act(page).click();
  await expect(page).toHaveURL(new RegExp(`${order}/handed`));
  await expect(page.locator('main')).toContainText('Nothing is owed.');
  await noViolations(page);
  for (const large of ['', '&large=yes']) {
    const text = await paper(page, `${order}/summary?sheet=a4${large}`, A4);
    for (const said of ['We did', 'It cost', 'Come back', 'Collected by']) expect(text, large || 'usual type').toContain(said);
    await noViolations(page);
  }
  await page.goto('/');
  await expect(page.locator(`section[aria-labelledby="to-hand-back"] a.row[href="${order}"]`)).toHaveCount(0);
});

test('a part is paid now, somebody else collects, and the rest is still owed', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 422 /);
  await signIn(page, shop, 'counter');
  const order = await owing(page);
  await page.locator('[name="who"][value="other"]').check();
  await page.locator('[name="method"][value="card"][form="pickup"]').check();
  await page.locator('#paid').fill('1.00');
  await tickAll(page);
  await act(page).click();
  await expect(page.locator('.problems'), 'who it is must be said').toBeFocused();
  await expect(page.locator('#paid')).toHaveValue('1.00');
  await expect(page.locator('[name="method"][value="card"][form="pickup"]')).toBeChecked();
  await noViolations(page);
  const owed = cents(await page.locator('.owed').innerText());
  await page.locator('[name="collected_by"]').fill('Notburga Quandtner');
  await act(page).click();
  await expect(page).toHaveURL(new RegExp(`${order}/handed`));
  await expect(page.getByRole('heading', { level: 1 })).toContainText('Notburga Quandtner');
  const still = page.locator('.note', { hasText: 'is still owed' });
  expect(cents(await still.locator('b').innerText())).toBe(owed - 100);
  await noViolations(page);
  await still.getByRole('link').click();
  await page.locator('form[action$="/payments"] [name="method"][value="card"]').check();
  await page.locator('#amount').fill(((owed - 100) / 100).toFixed(2));
  await page.getByRole('button', { name: 'Take the money' }).click();
  await page.goto(`${order}/handed`);
  await expect(page.locator('main')).toContainText('Nothing is owed.');
});
