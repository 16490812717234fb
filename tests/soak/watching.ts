/** What a process holds, looked at again and again while others ask it: proc(5). */
import { readdirSync, readFileSync, readlinkSync } from 'node:fs'
import { type Memory, memoryOf, slope_MBperH, walBytes } from './mixed.ts'

export type Look = Memory & {
  readonly sockets: number
  readonly wal_MB: number
  readonly worked_s: number
  /** what processes that it started hold besides, for themselves alone */
  readonly beside_MB: number
}

/** Looks every so often until it is asked for what it saw. */
export function watching(process_id: number, given: { readonly data: string; readonly every_ms: number }): () => readonly Look[] {
  const from_ms = performance.now()
  const looks: Look[] = []
  const look = () => looks.push(lookAt(process_id, given.data, (performance.now() - from_ms) / 1000))
  const timer = setInterval(look, given.every_ms)
  look()
  return () => {
    clearInterval(timer)
    look()
    return looks
  }
}

/**
 * How many more are held for good: the least of the last third above the least of the third before. What is open for a moment, or is
 * opened once when it is first needed, is none of it.
 */
export function grown(held: readonly number[]): number {
  const third = Math.floor(held.length / 3)
  return Math.min(...held.slice(-third)) - Math.min(...held.slice(third, 2 * third))
}

/** Of the time from a third on, when what is kept in memory has filled. */
export function lateSlope(looks: readonly Look[]): ReturnType<typeof slope_MBperH> {
  return slope_MBperH(looks.slice(Math.floor(looks.length / 3)))
}

function lookAt(process_id: number, data: string, at_s: number): Look {
  const open = readdirSync(`/proc/${process_id}/fd`)
    .map((name) => targetOf(`/proc/${process_id}/fd/${name}`))
    .filter(Boolean)
  const sockets = open.filter((target) => target.startsWith('socket:')).length
  const held = memoryOf(process_id, at_s, open.length - sockets)
  return { ...held, sockets, wal_MB: walBytes(data) / 1e6, worked_s: worked_s(process_id), beside_MB: beside_MB(process_id) }
}

function beside_MB(process_id: number): number {
  const children = textOf(`/proc/${process_id}/task/${process_id}/children`).split(' ').filter(Boolean)
  const own_kB = children.map((id) => Number(/^RssAnon:\s+(\d+)/m.exec(textOf(`/proc/${id}/status`))?.[1] ?? 0))
  return own_kB.reduce((sum, one) => sum + one, 0) / 1024
}

/** Empty where it ended meanwhile. */
function textOf(path: string): string {
  try {
    return readFileSync(path, 'utf8')
  } catch {
    return ''
  }
}

/** Empty where it was closed meanwhile. */
function targetOf(link: string): string {
  try {
    return readlinkSync(link)
  } catch {
    return ''
  }
}

/** The processor's time it has had, user's and system's, in ticks of a hundredth: fields 14 and 15, behind the name in brackets. */
function worked_s(process_id: number): number {
  const fields = readFileSync(`/proc/${process_id}/stat`, 'utf8')
    .replace(/^.*\) /, '')
    .split(' ')
  return (Number(fields[11]) + Number(fields[12])) / 100
}
