// The ears at the counter: three questions, a check that finds it, put right while they wait, and home with the summary.
import { expect, noViolations, signIn, test } from './support/shop.js';

// Taps an answer, and tells how far what was tapped moved on the screen and what is open to be asked.
async function answer(page, pick) {
  const box = () => pick.evaluate((input) => input.getBoundingClientRect().top);
  await pick.scrollIntoViewIfNeeded();
  const before = await box();
  const heard = page.waitForResponse('**/intake/ears');
  await pick.check();
  await heard;
  await expect(page.locator('#ears [role=status]')).toContainText(/points to|stands out/);
  return Math.abs((await box()) - before);
}

const open = (page) => page.locator('#questions > .question[open]:not(:has(input:checked))');

async function begin(page, name) {
  await page.goto('/intake');
  await page.locator('[name="customer.name"]').fill(name);
  await page.locator('[name="instrument.family"][value="violin"]').check();
  await page.locator('[name="complaint.words"]').fill('It rattles.');
}

test('three questions and a check find it, and it goes home from the counter', async ({ page, shop }, info) => {
  await signIn(page, shop, 'counter');
  await begin(page, 'Wilhelmina Quandtner');
  for (let asked = 0; asked < 3; asked += 1) {
    await expect(open(page)).toHaveCount(3);
    const question = open(page).first();
    const code = await question.getAttribute('data-question');
    const moved = await answer(page, page.locator(`[data-question="${code}"] input`).first());
    expect(moved, 'what the finger is on stays where it is').toBeLessThan(2);
  }
  await noViolations(page);
  await page.screenshot({ path: info.outputPath('questions.png') });
  const look = page.locator('[data-look]').first();
  const cause = await look.getAttribute('data-look');
  const second = page.locator('[data-look]').nth(1);
  await answer(page, second.locator('[value="not_found"]'));
  await expect(page.locator('[data-look]')).toHaveCount(4);
  const stood = await page.locator('[name="stood"]').inputValue();
  expect(stood.split(';')).toHaveLength(3);
  await answer(page, open(page).first().locator('input').first());
  await expect(page.locator('[name="stood"]'), 'what stood before the first check').toHaveValue(stood);
  await page.locator('.point summary').first().click();
  await expect(page.locator('.point').first()).toContainText('by all that is known');
  await noViolations(page);
  await answer(page, page.locator(`[name="check.${cause}"][value^="found"]`).first());
  await expect(open(page), 'nothing more is asked').toHaveCount(0);
  await noViolations(page);
  await page.screenshot({ path: info.outputPath('looks.png') });
  let taps = 0;
  const tap = async (what) => { taps += 1; await what.click(); };
  await tap(page.getByRole('button', { name: 'Take it in', exact: true }).last());
  await expect(page).toHaveURL(/\/orders\/\d+\/put_right$/);
  await noViolations(page);
  await page.screenshot({ path: info.outputPath('put_right.png') });
  await tap(page.locator('[name="result"][value="quiet"]'));
  await tap(page.getByRole('button', { name: 'Put right here', exact: true }));
  await expect(page).toHaveURL(/\/orders\/\d+\/handed$/);
  await expect(page.getByText('Nothing is owed.')).toBeVisible();
  await noViolations(page);
  expect(taps, 'take it in, quiet, put right here').toBe(3);
  await page.getByRole('link', { name: 'Print the summary', exact: true }).click();
  await expect(page.locator('main, body').first()).toContainText('Wilhelmina Quandtner');
});

test('out of reach the questions stay as they are', async ({ page, shop, complaints }) => {
  complaints.expect(/Failed to load resource/);
  await signIn(page, shop, 'counter');
  await begin(page, 'Balthasar Quandtner');
  await expect(open(page)).toHaveCount(3);
  await page.route('**/intake/ears', (route) => route.abort());
  const before = await page.locator('[data-question]').evaluateAll((all) => all.map((one) => one.dataset.question));
  await open(page).first().locator('input').first().check();
  await page.waitForTimeout(300);
  const after = await page.locator('[data-question]').evaluateAll((all) => all.map((one) => one.dataset.question));
  expect(after).toEqual(before);
});

test.describe('without script', () => {
  test.use({ javaScriptEnabled: false });

  test('the same is asked, looked at and put right', async ({ page, shop }) => {
    await signIn(page, shop, 'counter');
    await begin(page, 'Hieronymus Quandtner');
    await page.locator('#questions > .question[open] input').first().check();
    await page.getByRole('button', { name: 'What to ask and look at next' }).click();
    await expect(page.locator('[data-look]')).toHaveCount(3);
    await page.locator('[data-look] [value^="found"]').first().check();
    await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
    await expect(page).toHaveURL(/\/orders\/\d+\/put_right$/);
    await page.locator('[name="result"][value="quiet"]').check();
    await page.getByRole('button', { name: 'Put right here', exact: true }).click();
    await expect(page).toHaveURL(/\/handed$/);
  });
});
