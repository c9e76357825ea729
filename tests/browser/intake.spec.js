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

// Answers how many taps it took, and how many instruments there were to choose from. What is typed is not counted; a tap
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
  const instruments = await theirs.count();
  const words = page.locator('[name="complaint.words"]');
  if (instruments === 1) {
    await expect(words, 'the words can be typed at once').toBeFocused();
  } else {
    await expect(theirs.first(), 'which instrument it is can be said at once').toBeFocused();
    await tap(theirs.first().locator('xpath=..'));
    await tap(words);
  }
  await expect(page.locator('[name="instrument.id"]:checked')).not.toHaveValue('new');
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

test('a known customer with one instrument is taken in with four taps', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await takeIn(page, { name: 'Leocadia Quandtner', words: 'A rattle.' });
  const { taps, instruments } = await takeInAgain(page, 'Leocadia Quandtner');
  expect(instruments).toBe(1);
  expect(taps).toBeLessThanOrEqual(4);
});

test('the keyboard goes on where the next thing is to be said', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await takeIn(page, { name: 'Philippine Quandtner', words: 'A rattle.' });
  const choose = async () => {
    await page.keyboard.type('Philipp');
    const match = page.locator('#matches button', { hasText: 'Philippine Quandtner' });
    await expect(match).toBeVisible();
    while (!(await match.evaluate((button) => button === document.activeElement))) await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
  };
  await page.goto('/intake');
  await choose();
  await expect(page.locator('[name="complaint.words"]'), 'one instrument').toBeFocused();
  await page.locator('#part-1 > summary').click();
  await page.getByRole('button', { name: 'Somebody else' }).click();
  await expect(page.locator('[name="customer.name"]'), 'another name').toBeFocused();

  // A second instrument, so that there is a choice.
  await choose();
  await page.locator('#part-2 > summary').click();
  await page.locator('[name="instrument.id"][value="new"]').check();
  await page.locator('[name="instrument.family"][value="cello"]').check();
  await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
  await expect(page).toHaveURL(/\/orders\/\d+\/papers$/);
  await page.goto('/intake');
  await choose();
  const which = page.locator('[name="instrument.id"]');
  await expect(which.first(), 'two instruments').toBeFocused();
  await noViolations(page);
  await page.keyboard.press('ArrowDown');
  await expect(which.nth(1)).toBeChecked();
});

// How many visits the customer's page shows.
async function visits(page, name) {
  await page.goto('/');
  await page.locator('#find').fill(name);
  await page.locator('#find').press('Enter');
  await page.getByRole('link', { name, exact: true }).first().click();
  return page.locator('main a[href^="/orders/"]').count();
}

async function fillIn(page, name) {
  await page.goto('/intake');
  await page.locator('[name="customer.name"]').fill(name);
  await page.locator('[name="instrument.family"][value="violin"]').check();
}

test('a double tap takes one instrument in', async ({ page, shop }) => {
  await signIn(page, shop, 'counter');
  await fillIn(page, 'Kunigunde Quandtner');
  await page.getByRole('button', { name: 'Take it in', exact: true }).last().dblclick({ noWaitAfter: true });
  await expect(page).toHaveURL(/\/orders\/\d+\/papers$/);
  expect(await visits(page, 'Kunigunde Quandtner')).toBe(1);

  // Sent twice all the same, past what the page holds back, it still is one.
  await fillIn(page, 'Irmengard Quandtner');
  const form = await page.locator('#intake').evaluate((own) => Object.fromEntries(new FormData(own)));
  const send = () => page.request.post('/intake', { form, headers: { 'sec-fetch-site': 'same-origin' }, maxRedirects: 0 });
  const [one, other] = await Promise.all([send(), send()]);
  expect([one.status(), other.status()]).toEqual([303, 303]);
  expect(one.headers().location).toMatch(/\/orders\/\d+\/papers$/);
  expect(other.headers().location, 'the same order').toBe(one.headers().location);
  expect(await visits(page, 'Irmengard Quandtner')).toBe(1);
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

test('a family that is changed brings its own drawing and questions', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 422 /);
  await signIn(page, shop, 'counter');
  await page.goto('/intake');
  const pick = (family) => page.locator(`[name="instrument.family"][value="${family}"]`).check();
  const drawn = async (file) => expect(page.locator('.side .drawing use').first()).toHaveAttribute('href', new RegExp(`/${file}\\.svg#`));
  await drawn('violin');
  for (const [family, file] of [['cello', 'cello'], ['viola', 'violin'], ['bass', 'cello']]) {
    await pick(family);
    await drawn(file);
  }
  // A bow has none of it; whoever thinks better of it after the form came back has all of it again.
  await pick('bow');
  await expect(page.locator('#questions')).toBeHidden();
  await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
  await expect(page.locator('.problems')).toBeFocused();
  await expect(page.locator('#questions')).toBeHidden();
  await pick('cello');
  await expect(page.locator('#questions .question').first()).toBeVisible();
  await drawn('cello');
});

test('a customer who is typed again is asked about, and taken by one tap', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 409 /);
  await signIn(page, shop, 'counter');
  const type = async (words) => {
    await page.goto('/intake');
    await page.locator('[name="customer.name"]').fill('Leopoldine Quandtner');
    await page.locator('[name="customer.phone"]').fill('01 555 0771');
    await page.locator('[name="instrument.family"][value="violin"]').check();
    await page.locator('[name="complaint.words"]').fill(words);
    await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
  };
  await type('It buzzes.');
  await expect(page).toHaveURL(/\/papers$/);
  await type('It buzzes again.');
  await expect(page.getByRole('alert')).toContainText('Is it this one?');
  await expect(page.getByRole('alert')).toBeFocused();
  await noViolations(page);
  await expect(page.getByRole('alert')).toContainText('Leopoldine Quandtner · 01 555 0771 · Violin');
  await page.getByRole('button', { name: 'Yes, this one' }).click();
  await expect(page.locator('#part-1')).toContainText('Known here: Leopoldine Quandtner.');
  await expect(page.locator('[name="complaint.words"]')).toHaveValue('It buzzes again.');
  await expect(page.locator('[name="instrument.id"][value="new"]')).toBeChecked();
  await type('Hers, of the same name.');
  await page.getByRole('button', { name: 'No, somebody else: take it in' }).click();
  await expect(page).toHaveURL(/\/papers$/);
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
