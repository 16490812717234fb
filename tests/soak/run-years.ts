/** A household of years, asked by its people for so long while what the server holds is watched; and whether that is within the bars of R21. */
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { checkDatabaseFile } from '../../server/records/database-file.ts'
import { startLoombook } from '../hosting.ts'
import { askForYears, signIn, type Told } from './asking.ts'
import { type MadeHousehold, PASSWORD } from './household-of-years.ts'
import { type Kind, kindsOfRequest, namedIn } from './kinds-of-request.ts'
import { percentile } from './mixed.ts'
import { grown, type Look, lateSlope, watching } from './watching.ts'

export type Soaked = Told & {
  readonly kinds: readonly Kind[]
  readonly looks: readonly Look[]
  /** which of the installation's own jobs ran meanwhile, each with what it said */
  readonly jobs: readonly string[]
  readonly lasts_s: number
}

const MOST_page_ms = 200
const MOST_slope_MBperH = 5
/** A shorter time tells nothing of a slope. */
const LEAST_slope_s = 3600

export async function soakYears(given: {
  readonly data: string
  readonly household: MadeHousehold
  readonly lasts_s: number
  readonly pause_ms: number
  readonly command?: readonly string[]
  readonly env?: Readonly<Record<string, string>>
  readonly cwd?: string
}): Promise<Soaked> {
  const { data, household, lasts_s, pause_ms, command, cwd } = given
  const before = counted(data)
  const kinds = kindsOfRequest(namedIn(data), new Date().toISOString().slice(0, 10))
  const env = { ...given.env, LOOMBOOK_DATA: data, LOOMBOOK_LOG_LEVEL: 'warn' }
  const running = await startLoombook({ env, ...(command ? { command } : {}), ...(cwd ? { cwd } : {}) })
  try {
    const { url, child } = running
    const people = []
    for (const name of household.names) people.push(await signIn(url, { name, password: PASSWORD }))
    const seen = watching(child.pid as number, { data, every_ms: Math.max(1000, (lasts_s * 1000) / 240) })
    const told = await askForYears({ url, people, apiToken: household.apiToken, kinds, lasts_s, pause_ms })
    const looks = seen()
    child.kill('SIGTERM')
    const status = await running.ended
    const after = counted(data)
    const jobs = after.jobs.map(({ name, result, says }) => `${name}: ${result ?? 'not ended'}: ${says.slice(0, 200)}`)
    const faults = [
      ...told.faults,
      ...(status === 0 ? [] : [`The server ended with ${status}.`]),
      ...(after.entries - before.entries === told.entries
        ? []
        : [`${told.entries} entries saved, ${after.entries - before.entries} there.`]),
      ...(after.photos - before.photos === told.photos ? [] : [`${told.photos} photos sent, ${after.photos - before.photos} there.`]),
      ...after.jobs.filter(({ result }) => result === 'failed').map(({ name, says }) => `The job ${name} failed: ${says.slice(0, 200)}`),
      ...checkDatabaseFile(join(data, 'loombook.sqlite')).faults,
    ]
    return { ...told, faults, kinds, looks, jobs, lasts_s }
  } finally {
    running.child.kill('SIGKILL')
  }
}

/** What of R21 is not kept, in words; empty where all of it is. */
export function brokenBars(soaked: Pick<Soaked, 'faults' | 'looks' | 'lasts_s'>, pages_ms: readonly number[]): readonly string[] {
  const { looks, lasts_s, faults } = soaked
  const p95_ms = percentile(pages_ms, 0.95)
  const files = grown(looks.map((one) => one.files))
  const { slope, error } = lateSlope(looks)
  return [
    ...(faults.length > 0 ? [`${faults.length} faults`] : []),
    ...(p95_ms < MOST_page_ms ? [] : [`p95 of pages ${p95_ms.toFixed(0)} ms, at most ${MOST_page_ms}`]),
    ...(files > 0 ? [`${files} more open files`] : []),
    ...(lasts_s >= LEAST_slope_s && slope - 2 * error > MOST_slope_MBperH
      ? [`memory grows by ${slope.toFixed(1)} MB/h, more than ${MOST_slope_MBperH} beyond its error of ${(2 * error).toFixed(1)}`]
      : []),
  ]
}

export function timesOfPages(soaked: Pick<Soaked, 'kinds' | 'times_ms'>): readonly number[] {
  return soaked.kinds.filter((kind) => kind.sort === 'page').flatMap((kind) => soaked.times_ms.get(kind.name) ?? [])
}

type Counted = {
  readonly entries: number
  readonly photos: number
  readonly jobs: readonly { readonly name: string; readonly result: string | null; readonly says: string }[]
}

function counted(data: string): Counted {
  const client = new Database(join(data, 'loombook.sqlite'), { readonly: true })
  try {
    const count = (table: string) => Number(client.prepare(`SELECT count(*) FROM ${table}`).pluck().get())
    const jobs = client.prepare('SELECT name, result, says FROM jobs ORDER BY name').all() as Counted['jobs']
    return { entries: count('entries'), photos: count('photos'), jobs }
  } finally {
    client.close()
  }
}
