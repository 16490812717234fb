/**
 * For a forgotten password, on the machine itself, whether the server is running or not. `npm run -s password` lists who there is;
 * `npm run -s password -- NAME` prints a one-time link; with `--set` a new password is read instead, from the terminal or the standard
 * input; `--without-second-factor` lets the password alone in again.
 */
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { createInterface } from 'node:readline/promises'
import { Writable } from 'node:stream'
import { parseArgs } from 'node:util'
import { readConfig } from '../config.ts'
import { systemClock as clock } from '../records/clock.ts'
import type { Result } from '../records/contract.ts'
import { AlteredRow } from '../records/damage.ts'
import { closeDatabase, openDatabase } from '../records/database.ts'
import { dropSecondFactors, everybody, makePasswordLink, resetPassword } from '../records/password-links.ts'

const USAGE = 'npm run -s password -- NAME [--set] [--without-second-factor]'
const read = readConfig(process.env)
if (!read.ok) stop(read.faults.join('\n'))
const { config } = read
const file = join(config.data, 'loombook.sqlite')
if (!existsSync(file)) stop(`There are no records in ${config.data}. LOOMBOOK_DATA says where they are.`)
const { name, isSet, withoutSecondFactor } = asked()
const db = openDatabase(file)
try {
  if (name === undefined) list()
  else {
    if (withoutSecondFactor) say(orStop(dropSecondFactors(db, clock, name)) && `${name} has no second factor any more.`)
    if (isSet) {
      const { ended } = orStop(await resetPassword(db, clock, name, await typed()))
      say(`The password of ${name} is changed; sessions ended: ${ended}.`)
    } else if (!withoutSecondFactor) {
      const link = orStop(makePasswordLink(db, clock, name))
      say(`${siteAddress()}/new-password/${link.token}`)
      say(`This address lets ${link.name} choose a new password, once, within an hour. Every session of theirs ends then.`)
    }
  }
} catch (fault) {
  if (!(fault instanceof AlteredRow)) throw fault
  closeDatabase(db)
  stop(`${fault.message} Nothing was changed: bring a good backup back first, by npm run -s restore.`)
} finally {
  closeDatabase(db)
}

function asked() {
  try {
    const options = { set: { type: 'boolean' }, 'without-second-factor': { type: 'boolean' } } as const
    const { values, positionals } = parseArgs({ options, allowPositionals: true })
    if (positionals.length > 1) stop(`One name, in quotes where it has spaces: ${USAGE}`)
    return { name: positionals[0], isSet: values.set === true, withoutSecondFactor: values['without-second-factor'] === true }
  } catch (fault) {
    stop(`${(fault as Error).message}\n${USAGE}`)
  }
}

function list(): void {
  const all = everybody(db)
  for (const one of all) say(`${one.name}  ${one.role}${one.isDisabled ? ', may not come in' : ''}`)
  say(all.length === 0 ? 'Nobody has an account yet: open Loombook in a browser and set it up.' : `${USAGE} makes a link for one of them.`)
}

/** One line; on a terminal it is not shown. */
async function typed(): Promise<string> {
  const isTerminal = process.stdin.isTTY === true
  if (isTerminal) process.stderr.write('New password: ')
  const silent = new Writable({ write: (_chunk, _encoding, next) => next() })
  const lines = createInterface({ input: process.stdin, output: silent, terminal: isTerminal })
  try {
    for await (const line of lines) return line
    return ''
  } finally {
    lines.close()
    if (isTerminal) process.stderr.write('\n')
  }
}

function siteAddress(): string {
  const { baseUrl, basePath = '', host, port } = config
  const own = ['0.0.0.0', '::'].includes(host) ? 'localhost' : host.includes(':') ? `[${host}]` : host
  return baseUrl ?? `http://${own}:${port}${basePath}`
}

function orStop<T>(result: Result<T>): T {
  if (result.ok) return result.value
  closeDatabase(db)
  stop(result.refusals.map((one) => one.sentence).join('\n'))
}

function say(line: string): void {
  process.stdout.write(`${line}\n`)
}

function stop(says: string): never {
  process.stderr.write(`${says}\n`)
  process.exit(2)
}
