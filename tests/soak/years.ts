/**
 * `npm run soak:years -- [HOURS] [FOLDER]` (24 unless said): R21. A household of 50,000 entries over 20 years and 100,000 photos, served by
 * the bundle as the image starts it, and eight people who ask for something about every two seconds: every kind of page, photos, searches,
 * now and then a save and an API call. Tells p50, p95 and p99 of each kind, memory and open files over the time, and the log of writes. Ends
 * with 1 where a bar is broken: a fault, p95 of pages at 200 ms, files that stay open, or, from an hour on, memory that grows by more than
 * 5 MB/h beyond the error of that figure. Where the kernel can be told so, all of it may hold what the image and the unit give it, 512 MB, and
 * a process ended for that is a fault too. In FOLDER the household is kept, and found there another time; else it is made and removed.
 */
import { execFileSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { asTheImageStartsIt } from '../../docker/as-the-image.ts'
import { ROOT } from '../hosting.ts'
import { type MadeHousehold, makeHouseholdOfYears } from './household-of-years.ts'
import { memoryGroup } from './memory-group.ts'
import { percentile } from './mixed.ts'
import { brokenBars, type Soaked, soakYears, timesOfPages } from './run-years.ts'
import { grown, lateSlope } from './watching.ts'

const SIZE = { years: 20, vehicles: 10, entries: 50_000, photos: 100_000, parts: 20_000, people: 8 }
const PAUSE_ms = 2000
const MOST_MB = 512
const SHOWN_looks = 60

const hours = Number(process.argv[2] ?? 24)
const kept = process.argv[3]
const folder = kept ?? mkdtempSync(join(tmpdir(), 'loombook-years-'))
const print = (line: string) => process.stdout.write(`${line}\n`)
const bundle = mkdtempSync(join(tmpdir(), 'loombook-bundle-'))
try {
  execFileSync('node', ['--import', 'tsx', 'docker/bundle.ts', '--out', bundle], { cwd: ROOT, stdio: 'ignore' })
  const household = await householdIn(folder)
  const lasts_s = hours * 3600
  const { command: node, env } = asTheImageStartsIt()
  const group = memoryGroup(MOST_MB)
  const command = group === null ? node : group.starts(node)
  const soaked = await soakYears({ data: join(folder, 'data'), household, lasts_s, pause_ms: PAUSE_ms, command, env, cwd: bundle })
  tell(soaked)
  print(group === null ? 'no bound of memory could be set' : `within ${MOST_MB} MB: ${group.killed()} processes ended for lack of it`)
  const broken = [...brokenBars(soaked, timesOfPages(soaked)), ...(group !== null && group.killed() > 0 ? ['lack of memory'] : [])]
  group?.remove()
  for (const fault of soaked.faults.slice(0, 20)) print(fault)
  print(broken.length === 0 ? 'Within every bar of R21.' : `Broken: ${broken.join('; ')}.`)
  process.exitCode = broken.length === 0 ? 0 : 1
} finally {
  rmSync(bundle, { recursive: true, force: true })
  if (kept === undefined) rmSync(folder, { recursive: true, force: true })
}

async function householdIn(place: string): Promise<MadeHousehold> {
  const list = join(place, 'household.json')
  if (existsSync(list)) return JSON.parse(readFileSync(list, 'utf8')) as MadeHousehold
  const from_ms = performance.now()
  const made = await makeHouseholdOfYears(join(place, 'data'), SIZE)
  writeFileSync(list, JSON.stringify(made), { mode: 0o600 })
  const took_s = ((performance.now() - from_ms) / 1000).toFixed(0)
  print(`${SIZE.entries} entries over ${SIZE.years} years, ${SIZE.photos} photos, ${SIZE.vehicles} vehicles, made in ${took_s} s`)
  return made
}

function tell(soaked: Soaked): void {
  const { looks, kinds, times_ms, lasts_s } = soaked
  const shown = (name: string, times: readonly number[]) => {
    const share = (at: number) => percentile(times, at).toFixed(0).padStart(5)
    print(`${name.padEnd(22)}${String(times.length).padStart(6)} asked ${share(0.5)} ${share(0.95)} ${share(0.99)} ${share(1)} ms`)
  }
  print('p50, p95, p99 and the slowest of each kind, the slowest kind first:')
  const p95_ms = (name: string) => percentile(times_ms.get(name) ?? [], 0.95)
  for (const { name } of [...kinds].sort((a, b) => p95_ms(b.name) - p95_ms(a.name))) shown(name, times_ms.get(name) ?? [])
  for (const sort of ['picture', 'program', 'save'] as const)
    shown(
      `every ${sort}`,
      kinds.filter((kind) => kind.sort === sort).flatMap((kind) => times_ms.get(kind.name) ?? []),
    )
  shown('every page', timesOfPages(soaked))
  const asked = [...times_ms.values()].reduce((sum, times) => sum + times.length, 0)
  const worked_s = (looks.at(-1)?.worked_s ?? 0) - (looks[0]?.worked_s ?? 0)
  print(
    `${asked} requests in ${(lasts_s / 3600).toFixed(2)} h, ${soaked.entries} entries and ${soaked.photos} photos saved, ${soaked.faults.length} faults; the processor worked ${((worked_s * 1000) / asked).toFixed(1)} ms for each, its own jobs with it; load of the machine ${loadavg()[2]?.toFixed(1)}`,
  )
  const step = Math.ceil(looks.length / SHOWN_looks)
  const some = looks.filter((_, n) => n % step === 0)
  print(`memory by time: ${some.map((one) => one.rss_MB.toFixed(0)).join(' ')} MB`)
  const together = looks.reduce((most, one) => (one.rss_MB + one.beside_MB > most.rss_MB + most.beside_MB ? one : most))
  print(`most at once: ${together.rss_MB.toFixed(0)} MB and ${together.beside_MB.toFixed(0)} of the night's process beside it`)
  const { slope, error } = lateSlope(looks)
  print(`from a third on: slope ${slope.toFixed(1)} MB/h, give or take ${(2 * error).toFixed(1)}`)
  const [first, last] = [looks[0], looks.at(-1)]
  print(
    `open files ${first?.files} at first, ${last?.files} at last, ${grown(looks.map((one) => one.files))} more for good; sockets ${first?.sockets} and ${last?.sockets}`,
  )
  print(`log of writes at most ${Math.max(...looks.map((one) => one.wal_MB)).toFixed(1)} MB`)
  for (const job of soaked.jobs) print(`its own job ${job}`)
}
