// Takes an instrument in as the counter does, so that a journey has an order of its own.
import { expect } from '@playwright/test';

// Answers the order's address. `fields` by name; radio buttons are picked by name and value.
export async function takeIn(page, { name, family = 'violin', words, limit = '', answers = {} }) {
  await page.goto('/intake');
  await page.locator('[name="customer.name"]').fill(name);
  await page.locator(`[name="instrument.family"][value="${family}"]`).check();
  await page.locator('[name="complaint.words"]').fill(words);
  await page.locator('[name="complaint.buzz_at.note"]').fill('B4');
  for (const [code, answer] of Object.entries(answers)) {
    await answerQuestion(page, code, answer);
  }
  await page.locator('[name="authorised_limit"]').fill(limit);
  await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
  await expect(page).toHaveURL(/\/orders\/\d+\/papers$/);
  return new URL(page.url()).pathname.replace(/\/papers$/, '');
}

// Answers a question wherever it stands: folded among the others, or open. What an earlier answer changed may still move it
// about, so it is tried until it takes.
export async function answerQuestion(page, code, answer) {
  const pick = page.locator(`[name="complaint.answers.${code}"][value="${answer}"]`);
  const question = page.locator(`[data-question="${code}"]`);
  const heard = page.waitForResponse('**/intake/ears');
  await expect(async () => {
    const more = page.locator('#more > summary');
    if (!(await question.isVisible()) && (await more.isVisible())) await more.click({ timeout: 1000 });
    if (!(await pick.isVisible())) await question.locator('summary').click({ timeout: 1000 });
    await pick.check({ timeout: 1000 });
  }).toPass();
  await heard;
}
