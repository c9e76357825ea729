// What every journey stands on: `test` with a demo shop behind it, signing in, and a page that may not misbehave unnoticed.
import { test as base, expect } from '@playwright/test';
import { openDemo, openEmpty } from './demo.js';
import { watch } from './watch.js';

export { expect };
export { noViolations } from './access.js';
export { readableInGrey } from './grey.js';
export { paper } from './paper.js';

export const test = base.extend({
  shop: [async ({}, use) => {
    const shop = await openDemo();
    await use(shop);
    await shop.close();
  }, { scope: 'worker', timeout: 150_000 }],

  baseURL: ({ shop }, use) => use(shop.address),

  // Fails the test when a page says or asks what it should not. A refusal that the test wants is said beforehand:
  // `complaints.expect(/status of 422/)`, and it must then come.
  complaints: [async ({ context, shop }, use, info) => {
    const complaints = await watch(context, shop.address);
    const before = shop.said().length;
    await use(complaints);
    const said = shop.said().slice(before);
    if (info.status !== info.expectedStatus && said) await info.attach('what the service said', { body: said, contentType: 'text/plain' });
    complaints.settle();
  }, { auto: true }],
});

// The same in a shop that nobody has set up yet.
export const emptyTest = test.extend({
  shop: [async ({}, use) => {
    const shop = await openEmpty();
    await use(shop);
    await shop.close();
  }, { scope: 'worker', timeout: 150_000 }],
});

// `role`: counter, bench or owner; the one person of the demo shop who has little beside it.
export async function signIn(page, shop, role) {
  const person = shop.people.find(({ roles }) => roles.includes(role));
  if (!person) throw new Error(`Nobody in the demo shop has the role ${role}: ${JSON.stringify(shop.people.map((p) => p.roles))}`);
  await page.goto('/sign-in');
  await page.locator('[name="name"]').fill(person.name);
  await page.locator('[name="password"]').fill(person.password);
  await page.getByRole('button', { name: 'Sign in', exact: true }).click();
  await expect(page, `signed in as ${person.name}`).not.toHaveURL(/\/sign-in/);
  return person;
}
