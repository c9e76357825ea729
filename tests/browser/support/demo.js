// A shop: one service for each worker, on a free port, with a data folder of its own that is thrown away.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import net from 'node:net';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const PROGRAM = process.env.PURFLE_BIN || fileURLToPath(new URL('../../../target/debug/purfle', import.meta.url));
const READY_WITHIN = 120_000; // filling the shop with a program built for debugging
const STOPPED_WITHIN = 15_000; // it lets running requests finish for 10 s

// The demo shop, with its people.
export async function openDemo() {
  const demo = await open('demo', '--orders', '300', '--seed', '7', '--as-of', '2026-02-20');
  demo.people = signIns(await readFile(path.join(demo.data, 'demo-sign-in.txt'), 'utf8'));
  return demo;
}

// A shop that nobody has set up yet: `link` opens it, once.
export async function openEmpty() {
  const shop = await open('serve');
  const [link] = /\S+\/set-up\/\S+/.exec(shop.said()) ?? [];
  if (!link) {
    await shop.close();
    throw new Error(`Nothing is said of how to set up the shop:\n${shop.said()}`);
  }
  return Object.assign(shop, { link, people: [] });
}

async function open(command, ...more) {
  const data = await mkdtemp(path.join(os.tmpdir(), 'purfle-demo-'));
  const address = `http://127.0.0.1:${await freePort()}`;
  const words = [command, '--data', data, '--listen', address.slice('http://'.length), ...more];
  const { DATABASE_URL, ...env } = process.env;
  const service = spawn(PROGRAM, words, { env, stdio: ['ignore', 'pipe', 'pipe'] });
  const said = [];
  service.stdout.on('data', (text) => said.push(String(text)));
  service.stderr.on('data', (text) => said.push(String(text)));
  const ended = new Promise((resolve) => {
    service.once('error', (fault) => resolve(`could not be started: ${fault.message}`));
    service.once('exit', (code, signal) => resolve(`ended with ${signal ?? code}`));
  });
  const demo = { address, data, said: () => said.join('') };
  // A run that is broken off must not leave the service behind.
  const kill = () => service.kill('SIGKILL');
  process.once('exit', kill);

  demo.close = async () => {
    service.kill('SIGTERM');
    const how = await Promise.race([ended, pause(STOPPED_WITHIN, 'was still running')]);
    if (how === 'was still running') kill();
    process.off('exit', kill);
    await rm(data, { recursive: true, force: true });
    if (how !== 'ended with 0') {
      throw new Error(`Told to stop, the service ${how} (${STOPPED_WITHIN / 1000} s are allowed).\n${demo.said()}`);
    }
  };

  try {
    await ready(address, ended, demo);
  } catch (fault) {
    await demo.close().catch(() => {});
    throw fault;
  }
  return demo;
}

// Lines of name, role and password, with a tab between; whoever has the fewest roles comes first.
function signIns(text) {
  const people = text.split('\n').filter(Boolean).map((line) => {
    const [name, roles, password] = line.split('\t');
    if (!password) throw new Error(`demo-sign-in.txt has a line without three parts: ${line}`);
    return { name, roles: roles.split(/[ ,]+/), password };
  });
  return people.sort((a, b) => a.roles.length - b.roles.length);
}

async function ready(address, ended, demo) {
  const until = Date.now() + READY_WITHIN;
  let over;
  ended.then((how) => { over = how; });
  while (Date.now() < until) {
    if (over) throw new Error(`${PROGRAM} ${over}\n${demo.said()}`);
    const answer = await fetch(`${address}/healthz`).catch(() => null);
    if (answer?.ok) return;
    await pause(100);
  }
  throw new Error(`${PROGRAM} did not answer /healthz within ${READY_WITHIN / 1000} s\n${demo.said()}`);
}

async function freePort() {
  const server = net.createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address();
  server.close();
  await once(server, 'close');
  return port;
}

const pause = (ms, word) => new Promise((resolve) => { setTimeout(resolve, ms, word).unref(); });
