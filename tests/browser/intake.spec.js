// The counter: a known customer within a few taps, a new one, and what wants mending.
import { expect, noViolations, paper, signIn, test } from './support/shop.js';
import { takeIn } from './support/take_in.js';

// Somebody who has been here, and something of theirs.
async function known(page) {
  await page.goto('/');
  const order = await page.locator('a.row[href^="/orders/"]').first().getAttribute('href');
  await page.goto(order);
  await page.locator('a[href^="/customers/"]').first().click();
  return (await page.getByRole('heading', { level: 1 }).innerText()).trim();
}

// Answers how many taps it took, and how many instruments there were to choose from. What is typed is not counted; the tap
// into the field for the words is.
async function takeInAgain(page, name) {
  await page.goto('/');
  let taps = 0;
  const tap = async (what) => {
    taps += 1;
    await what.click();
  };
  await tap(page.getByRole('link', { name: 'Take in', exact: true }));
  await expect(page.locator('[name="customer.name"]'), 'the name can be typed at once').toBeFocused();
  await noViolations(page);
  await page.keyboard.type(name.slice(0, 6));
  await tap(page.locator('#matches button', { hasText: name }).first());
  await expect(page.locator('#part-1 .part-said')).toContainText(name);
  await expect(page.locator('#part-1 .part-said')).toContainText('known here');
  const theirs = page.locator('[name="instrument.id"]:not([value="new"])');
  if ((await page.locator('[name="instrument.id"]:checked').count()) === 0) await tap(theirs.first());
  await expect(page.locator('[name="instrument.id"]:checked')).not.toHaveValue('new');
  const instruments = await theirs.count();
  await tap(page.locator('[name="complaint.words"]'));
  await page.keyboard.type('It buzzes on the A string.');
  const day = page.locator('[name="promised_on"]').nth(3);
  await tap(day);
  await expect(day).toBeChecked();
  await noViolations(page);
  await tap(page.getByRole('button', { name: 'Take it in', exact: true }).last());
  await expect(page).toHaveURL(/\/orders\/\d+\/papers$/);
  await noViolations(page);
  await page.goto(page.url().replace(/\/papers$/, ''));
  await expect(page.locator('main')).toContainText('It buzzes on the A string.');
  return { taps, instruments };
}

test('a known customer with one instrument is taken in with five taps', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await takeIn(page, { name: 'Leocadia Quandtner', words: 'A rattle.' });
  const { taps, instruments } = await takeInAgain(page, 'Leocadia Quandtner');
  expect(instruments).toBe(1);
  expect(taps).toBeLessThanOrEqual(5);
});

test('whoever has been here before is taken in with at most six taps', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  const { taps, instruments } = await takeInAgain(page, await known(page));
  expect(instruments).toBeGreaterThan(0);
  expect(taps).toBeLessThanOrEqual(instruments === 1 ? 5 : 6);
});

test('somebody new is taken in, and gets a tag and a stub', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  const order = await takeIn(page, {
    name: 'Ottilie Quandtner',
    words: 'A fizz up high since the new strings.',
    limit: '80',
    answers: { character: 'high_fizz', tailpiece_touched: 'yes' },
  });
  const digits = order.split('/').pop();
  const tag = await paper(page, `${order}/tag?size=label`, { width: 100, height: 62 });
  expect(tag.replace(/\s/g, '')).toContain(digits);
  expect(tag).toContain('Ottilie');
  await paper(page, `${order}/tag?size=label4x6`, { width: 101.6, height: 152.4 });
  await paper(page, `${order}/tag?size=a6&sheet=a4`, { width: 210, height: 297 });
  const stub = await paper(page, `${order}/stub?size=label`, { width: 100, height: 62 });
  expect(stub.replace(/\s/g, '')).toContain(digits);
  expect(stub).not.toMatch(/Quandtner|fizz|80/);
  for (const [size, sheet] of [['label4x6', { width: 101.6, height: 152.4 }], ['a6&sheet=a4', { width: 210, height: 297 }]]) {
    expect(await paper(page, `${order}/stub?size=${size}`, sheet), size).not.toContain('Quandtner');
  }
});

test('what wants mending is told first, with everything typed kept', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 422 /);
  await signIn(page, shop, 'counter');
  await page.goto('/intake');
  await page.locator('[name="customer.name"]').fill('Ferdinand Quandtner');
  await page.locator('[name="instrument.family"][value="cello"]').check();
  await page.locator('[name="instrument.year_made"]').fill('2999');
  await page.locator('[name="complaint.words"]').fill('A low rattle.');
  await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
  await expect(page.locator('.problems')).toBeFocused();
  await expect(page.locator('.problems')).toContainText(/year made cannot be after \d{4}/);
  await expect(page.locator('[name="customer.name"]')).toHaveValue('Ferdinand Quandtner');
  await expect(page.locator('[name="instrument.year_made"]')).toHaveValue('2999');
  await expect(page.locator('[name="complaint.words"]')).toHaveValue('A low rattle.');
  await expect(page.locator('[name="instrument.family"][value="cello"]')).toBeChecked();
  await noViolations(page);
  await page.locator('.problems a').first().click();
  await expect(page.locator('[name="instrument.year_made"]')).toBeFocused();
  await page.locator('[name="instrument.year_made"]').fill('1999');
  await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
  await expect(page).toHaveURL(/\/orders\/\d+\/papers$/);
});

test('a tag read wrongly opens nothing and says what to do', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await page.goto('/');
  await noViolations(page);
  const tag = (await page.locator('a.row .tag').first().innerText()).replace(/\D/g, '');
  const wrong = tag.slice(0, -1) + ((Number(tag.at(-1)) + 1) % 10);
  await page.locator('#find').fill(wrong);
  await page.locator('#find').press('Enter');
  await expect(page.getByText('does not add up')).toBeVisible();
  await noViolations(page);
  await page.locator('#find').fill(tag);
  await page.locator('#find').press('Enter');
  await expect(page).toHaveURL(new RegExp(`/orders/${tag}$`));
});
