// The office: catalogue, settings, people, and how this device looks.
import { expect, noViolations, signIn, test } from './support/shop.js';

test('the catalogue says how to check, what mends it, and where care is needed', async ({ page, shop }) => {
  await signIn(page, shop, 'bench');
  await page.goto('/catalogue');
  await noViolations(page);
  await page.goto('/catalogue/causes/seam_open_upper');
  await expect(page.locator('main')).toContainText('Structural fault');
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

test('a device is set for the workshop or for the dark', async ({ page, shop }) => {
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
