/**
 * `npm run soak -- [SECONDS] [CLIENTS]` (600 and 32 unless said): a busy household for so long. Tells how long saves and pages took, whether
 * anybody heard of a held database, how large the log of writes is afterwards, and how memory and open files went.
 */
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setUp, startLoombook, vehiclesOf } from '../hosting.ts'
import { type Memory, memoryOf, mixed, percentile, walBytes } from './mixed.ts'

const [lasts_s = 600, clients = 32] = process.argv.slice(2).map(Number)
const data = mkdtempSync(join(tmpdir(), 'loombook-soak-'))
const command = ['node', '--max-semi-space-size=32', '--import', 'tsx', 'server/main.ts']
const running = await startLoombook({ env: { LOOMBOOK_DATA: data, LOOMBOOK_LOG_LEVEL: 'warn' }, command })
const { cookie, token } = await setUp(running.url, 'demonstration')
const vehicles = await vehiclesOf(running.url, cookie)
const memory: Memory[] = []
const from_ms = performance.now()
const id = running.child.pid as number
const look = () => memory.push(memoryOf(id, (performance.now() - from_ms) / 1000, readdirSync(`/proc/${id}/fd`).length))
const timer = setInterval(look, Math.max(1000, (lasts_s * 1000) / 60))
const reader_s = Math.min(60, lasts_s / 2)
const told = await mixed({ url: running.url, cookie, token, vehicles, data, clients, lasts_s, reader_s })
look()
clearInterval(timer)
const print = (line: string) => process.stdout.write(`${line}\n`)
print(
  `${clients} clients for ${lasts_s} s: ${told.requests} requests, ${told.writes} saves, ${told.faults.length} faults, ${told.busy} times "in use"`,
)
for (const [name, times] of [
  ['saves', told.writes_ms],
  ['pages', told.reads_ms],
] as const)
  print(
    `${name}: p50 ${percentile(times, 0.5).toFixed(0)} ms, p95 ${percentile(times, 0.95).toFixed(0)} ms, p99 ${percentile(times, 0.99).toFixed(0)} ms`,
  )
print(`log of writes afterwards: ${(walBytes(data) / 1e6).toFixed(1)} MB`)
const late = memory.slice(Math.floor(memory.length / 3))
print(
  `memory: ${late[0]?.rss_MB.toFixed(0)} MB after a third, ${late.at(-1)?.rss_MB.toFixed(0)} MB at the end, slope ${slope_MBperH(late).toFixed(1)} MB/h`,
)
print(`open files: ${late[0]?.files} after a third, ${late.at(-1)?.files} at the end`)
for (const fault of told.faults.slice(0, 10)) print(fault)
running.child.kill('SIGTERM')
print(`ended with ${await running.ended}`)
rmSync(data, { recursive: true, force: true })
process.exitCode = told.faults.length > 0 || told.busy > 0 ? 1 : 0

/** Least squares through memory over time. */
function slope_MBperH(points: readonly Memory[]): number {
  const mean = (all: readonly number[]) => all.reduce((sum, one) => sum + one, 0) / all.length
  const [at_s, rss_MB] = [mean(points.map((one) => one.at_s)), mean(points.map((one) => one.rss_MB))]
  const above = points.reduce((sum, one) => sum + (one.at_s - at_s) * (one.rss_MB - rss_MB), 0)
  const below = points.reduce((sum, one) => sum + (one.at_s - at_s) ** 2, 0)
  return (above / below) * 3600
}
