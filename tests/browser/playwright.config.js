// Journeys through the pages, in Debian's Chromium held both ways as a shop's tablet is.
import { defineConfig } from '@playwright/test';

const tablet = (width, height) => ({ viewport: { width, height }, hasTouch: true });

export default defineConfig({
  testDir: '.',
  testMatch: '*.spec.js',
  outputDir: '../../target/browser',
  reporter: 'list',
  workers: 2,
  retries: 0, // a journey that succeeds at the second try has found something
  maxFailures: 10, // a service that does not start fails them all, each after a long wait
  timeout: 30_000,
  use: {
    browserName: 'chromium',
    locale: 'en-GB',
    timezoneId: 'UTC', // not the shop's: what a page shows must not depend on the tablet's clock
    screenshot: 'only-on-failure',
    trace: 'retain-on-failure',
    launchOptions: {
      executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
      // No page reaches beyond this machine, whatever it asks for.
      args: ['--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1'],
    },
  },
  projects: [
    { name: 'landscape', use: tablet(1180, 820) },
    { name: 'portrait', use: tablet(820, 1180) },
  ],
});
