// The office: catalogue, settings, people, and how this device looks.
import { expect, noViolations, signIn, test } from './support/shop.js';

test('the catalogue says how to check, what mends it, and where care is needed', async ({ page, shop }) => {
  await signIn(page, shop, 'bench');
  await page.goto('/catalogue');
  await noViolations(page);
  await page.goto('/catalogue/causes/seam_open_upper');
  await expect(page.locator('.caution').first()).toContainText('Structural fault');
  await expect(page.getByRole('heading', { name: 'Check', exact: true })).toBeVisible();
  await expect(page.locator('section[aria-labelledby="c-mend"]').getByRole('link').first()).toBeVisible();
  await noViolations(page);
  for (const path of ['/catalogue/jobs', '/catalogue/jobs/reglue_seam', '/catalogue/questions', '/catalogue/cautions']) {
    await page.goto(path);
    await noViolations(page);
  }
});

test('the owner looks after the shop and its people', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  for (const path of ['/settings', '/staff', '/catalogue/causes/new', '/catalogue/causes/nut_loose/change']) {
    await page.goto(path);
    await noViolations(page);
  }
});

test('what the owner settles is kept, and stands on the stub', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/settings');
  const terms = `Kept for ninety days. ${test.info().project.name}`;
  await page.locator('[name="stub_terms"]').fill(terms);
  await page.getByRole('button', { name: 'Keep these' }).click();
  await expect(page.locator('.just')).toContainText('Kept.');
  await noViolations(page);
  await page.reload();
  await expect(page.locator('[name="stub_terms"]')).toHaveValue(terms);
  await page.goto('/');
  const order = await page.locator('a.row[href^="/orders/"]').first().getAttribute('href');
  await page.goto(`${order}/stub?size=a6`);
  await expect(page.locator('main')).toContainText(terms);
});

test('other bands of age are counted anew, and what is typed meanwhile stays', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  for (const [bounds, told] of [['5, 50', 'under 5, 5 to 49, 50 and over, not known'], ['2, 20, 80, 100', '80 to 99, 100 and over']]) {
    await page.goto('/settings');
    await page.locator('#age_bounds').fill(bounds);
    await page.getByRole('button', { name: 'Keep these' }).click();
    await expect(page.locator('.just')).toContainText('Kept.');
    await page.locator('[name="phone"]').fill('01 555 0177');
    await expect(page.locator('[data-then]')).toContainText('Now the reports tell', { timeout: 20_000 });
    await expect(page.locator('[data-then]')).toContainText(told);
    await expect(page.locator('[name="phone"]')).toHaveValue('01 555 0177');
    await expect(page.locator('[data-under-way]')).toHaveCount(0);
    await noViolations(page);
  }
});

test('somebody new may work at the bench, until told that they may not', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 4\d\d /);
  await signIn(page, shop, 'owner');
  await page.goto('/staff');
  await page.locator('#person [name="name"]').fill('Walburga');
  await page.locator('#person [name="password"]').fill('short');
  await page.getByRole('button', { name: 'Add', exact: true }).click();
  await expect(page.locator('.problems')).toBeFocused();
  await expect(page.locator('#person [name="name"]')).toHaveValue('Walburga');
  await expect(page.locator('#person [name="password"]')).toHaveValue('');
  await noViolations(page);
  await page.locator('#person [name="bench"]').check();
  await page.locator('#person [name="password"]').fill('a long enough word');
  await page.getByRole('button', { name: 'Add', exact: true }).click();
  await expect(page.locator('tr', { hasText: 'Walburga' })).toContainText('bench', { ignoreCase: true });
  await expect(page.locator('tr', { hasText: 'Walburga' })).toContainText('has not chosen a password yet');
  const come = async (password) => {
    await page.context().clearCookies();
    await page.goto('/sign-in');
    await page.locator('[name="name"]').fill('Walburga');
    await page.locator('[name="password"]').fill(password);
    await page.getByRole('button', { name: 'Sign in', exact: true }).click();
  };
  await come('a long enough word');
  await expect(page).toHaveURL(/\/me$/);
  await page.goto('/bench');
  await expect(page).toHaveURL(/\/me$/);
  await expect(page.locator('main')).toContainText('Choose your own password first.');
  await noViolations(page);
  await page.locator('[name="present"]').fill('a long enough word');
  await page.locator('#password').fill('a word of her own');
  await page.getByRole('button', { name: 'Change the password', exact: true }).click();
  await expect(page.locator('main')).toContainText('Your new password holds.');
  await page.goto('/bench');
  await expect(page.locator('.foot-says')).toContainText('at the bench');

  await page.context().clearCookies();
  await signIn(page, shop, 'owner');
  await page.goto('/staff');
  await page.getByRole('link', { name: 'Change Walburga' }).click();
  await noViolations(page);
  await page.locator('[name="active"][value=""]').check();
  await page.getByRole('button', { name: 'Keep', exact: true }).click();
  await expect(page.locator('tr', { hasText: 'Walburga' })).toContainText('may not sign in');
  await come('a word of her own');
  await expect(page).toHaveURL(/\/sign-in/);
  await expect(page.locator('.problems')).toBeVisible();
});

test('a device is set for the workshop or for the dark', async ({ page, shop }) => {
  test.slow(); // eight pages, each looked through by axe
  await signIn(page, shop, 'bench');
  for (const theme of ['workshop', 'dark']) {
    await page.goto('/me');
    await page.locator(`[value="${theme}"]`).check();
    await expect(page.locator('html')).toHaveAttribute('data-theme', theme);
    for (const path of ['/me', '/', '/bench', '/catalogue']) {
      await page.goto(path);
      await expect(page.locator('html')).toHaveAttribute('data-theme', theme);
      await noViolations(page);
    }
  }
});
