/** Loombook as its own process, over a real port. */
import { type ChildProcess, spawn } from 'node:child_process'
import { join } from 'node:path'

export const ROOT = join(import.meta.dirname, '..')
/** A busy machine takes its time. */
const STARTS_ms = 60_000

export type Running = {
  readonly child: ChildProcess
  readonly url: string
  readonly out: () => string
  readonly log: () => string
  /** the exit status, once it has ended; null if a signal ended it */
  readonly ended: Promise<number | null>
}

/** Starts it and waits for the open door. `command` is the sources' own start unless it is said. */
export async function startLoombook(
  given: { readonly env?: Record<string, string>; readonly command?: readonly string[]; readonly cwd?: string } = {},
): Promise<Running> {
  const [program = 'node', ...parameters] = given.command ?? ['node', '--import', 'tsx', 'server/main.ts']
  const clean = Object.fromEntries(Object.entries(process.env).filter(([name]) => !name.startsWith('LOOMBOOK_')))
  const child = spawn(program, parameters, {
    cwd: given.cwd ?? ROOT,
    env: { ...clean, LOOMBOOK_PORT: '0', LOOMBOOK_TIME_ZONE: 'UTC', ...given.env },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let out = ''
  let log = ''
  child.stdout?.on('data', (chunk) => {
    out += chunk
  })
  child.stderr?.on('data', (chunk) => {
    log += chunk
  })
  const ended = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)))
  const url = await new Promise<string>((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error(`It did not open in time:\n${out}\n${log}`)), STARTS_ms)
    child.stdout?.on('data', () => {
      const found = /open at (http[^\s"]+)/.exec(out)
      if (!found) return
      clearTimeout(timer)
      resolve(found[1] as string)
    })
    child.once('exit', (code) => {
      clearTimeout(timer)
      reject(new Error(`It ended with ${code} before it was open:\n${out}\n${log}`))
    })
  })
  return { child, url, out: () => out, log: () => log, ended }
}

/** Makes the first account, as a browser does it. Answers the cookie and the token of forms. */
export async function setUp(
  url: string,
  start: 'empty' | 'demonstration' = 'empty',
): Promise<{ readonly cookie: string; readonly token: string }> {
  const door = await fetch(`${url}/first-run`)
  const visitor = cookiesOf(door)
  const made = await fetch(`${url}/first-run`, {
    method: 'POST',
    redirect: 'manual',
    headers: { cookie: visitor, 'content-type': 'application/x-www-form-urlencoded' },
    body: new URLSearchParams({ _token: tokenIn(await door.text()), name: 'Owner', password: 'a long enough word', start }),
  })
  const cookie = cookiesOf(made)
  if (made.status !== 303 || cookie === '') throw new Error(`It was not set up: ${made.status} ${await made.text()}`)
  const page = await fetch(`${url}/`, { headers: { cookie } })
  return { cookie, token: tokenIn(await page.text()) }
}

/** Ids of the vehicles on the first page. */
export async function vehiclesOf(url: string, cookie: string): Promise<readonly string[]> {
  const page = await (await fetch(`${url}/`, { headers: { cookie } })).text()
  return [...new Set([...page.matchAll(/href="\/vehicles\/([0-9a-f-]{36})"/g)].map((found) => found[1] as string))]
}

export function tokenIn(body: string): string {
  return /name="_token" value="([^"]+)"/.exec(body)?.[1] ?? ''
}

function cookiesOf(reply: Response): string {
  return reply.headers
    .getSetCookie()
    .map((one) => one.split(';')[0])
    .join('; ')
}
