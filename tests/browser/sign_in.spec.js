import { expect, noViolations, signIn, test } from './support/shop.js';

test('the sign-in page can be used by everybody', async ({ page }) => {
  await page.goto('/sign-in');
  await expect(page.getByRole('button', { name: 'Sign in', exact: true })).toBeVisible();
  await noViolations(page);
});

for (const role of ['counter', 'bench', 'owner']) {
  test(`the ${role} signs in and finds a page that can be used by everybody`, async ({ page, shop }) => {
    await signIn(page, shop, role);
    await expect(page.getByRole('heading', { level: 1 })).toBeVisible();
    await noViolations(page);
  });
}

test('who is not signed in is shown the sign-in page', async ({ page }) => {
  await page.goto('/');
  await expect(page).toHaveURL(/\/sign-in/);
});

test('a wrong password opens nothing, keeps the name and says so', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 4\d\d /);
  const [{ name }] = shop.people;
  await page.goto('/sign-in');
  await page.locator('[name="name"]').fill(name);
  await page.locator('[name="password"]').fill('not the password');
  await page.getByRole('button', { name: 'Sign in', exact: true }).click();
  await expect(page.locator('[name="name"]')).toHaveValue(name);
  await expect(page.locator('[name="password"]')).toHaveValue('');
  await noViolations(page);
  await page.goto('/');
  await expect(page).toHaveURL(/\/sign-in/);
});
