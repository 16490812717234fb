/**
 * What the process says of itself. At a terminal somebody reads sentences; anywhere else (a container's log, the journal, a file) each is a
 * line of JSON as the log of requests has them, so that whoever collects the two reads one form: OWASP ASVS 5.0.0, 16.2.4.
 */
import { hostname } from 'node:os'

/** As pino numbers and names them in the lines beside these. */
const LEVELS = { info: 30, warn: 40, error: 50, fatal: 60 } as const
type Level = keyof typeof LEVELS
type Stream = { readonly isTTY?: boolean; write(line: string): unknown }
type Log = { error(fault: unknown, words: string): void }

/** Where it is and how it is reached; said at any level of the log, since nobody gets in without. */
export function say(words: string | null): void {
  if (words !== null) tell(process.stdout, { level: 'info', words })
}

export function warn(words: string): void {
  tell(process.stderr, { level: 'warn', words, asSentence: `Warning: ${words}` })
}

/** Work beside the pages that failed: into the log as a fault of a page is, with what the log leaves out of it. */
export function sayFault(log: Log, what: string, fault: unknown, stream: Stream = process.stderr): void {
  if (stream.isTTY) stream.write(`${what}: ${fault instanceof Error ? fault.message : String(fault)}\n`)
  else log.error(fault, what)
}

/** Ends the process: every reason at a terminal below one head, in the log a line each. */
export function leave(status: number, reasons: readonly string[]): never {
  const head = 'Loombook cannot start:'
  if (process.stderr.isTTY) process.stderr.write(`${head}\n${reasons.map((one) => `  ${one}`).join('\n')}\n`)
  else for (const one of reasons) tell(process.stderr, { level: 'fatal', words: `${head} ${one}` })
  process.exit(status)
}

function tell(stream: Stream, given: { readonly level: Level; readonly words: string; readonly asSentence?: string }): void {
  stream.write(`${stream.isTTY ? (given.asSentence ?? given.words) : lineOf(given.level, given.words)}\n`)
}

function lineOf(level: Level, msg: string): string {
  return JSON.stringify({ level: LEVELS[level], time: Date.now(), pid: process.pid, hostname: hostname(), msg })
}
