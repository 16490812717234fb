/**
 * `npm run soak -- [SECONDS] [CLIENTS] [PAUSE_ms]` (600, 32 and 0 unless said): a busy household for so long, each client asking again after
 * about that pause. Tells how long saves and pages took, whether anybody heard of a held database, how large the log of writes is
 * afterwards, and how memory and open files went. Ends with 1 where an answer was a fault, a database was held, or that log is large.
 */
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setUp, startLoombook, vehiclesOf } from '../hosting.ts'
import { type Memory, memoryOf, mixed, percentile, slope_MBperH, walBytes } from './mixed.ts'

const MOST_wal_MB = 64
const [lasts_s = 600, clients = 32, pause_ms = 0] = process.argv.slice(2).map(Number)
const data = mkdtempSync(join(tmpdir(), 'loombook-soak-'))
const command = ['node', '--max-semi-space-size=32', '--no-allocation-site-pretenuring', '--import', 'tsx', 'server/main.ts']
const running = await startLoombook({ env: { LOOMBOOK_DATA: data, LOOMBOOK_LOG_LEVEL: 'warn' }, command })
const { cookie, token } = await setUp(running.url, 'demonstration')
const vehicles = await vehiclesOf(running.url, cookie)
const memory: Memory[] = []
const from_ms = performance.now()
const id = running.child.pid as number
const look = () => memory.push(memoryOf(id, (performance.now() - from_ms) / 1000, readdirSync(`/proc/${id}/fd`).length))
const timer = setInterval(look, Math.max(1000, (lasts_s * 1000) / 60))
const reader_s = Math.min(60, lasts_s / 2)
const told = await mixed({ url: running.url, cookie, token, vehicles, data, clients, lasts_s, reader_s, pause_ms })
look()
clearInterval(timer)
const print = (line: string) => process.stdout.write(`${line}\n`)
print(
  `${clients} clients for ${lasts_s} s, pausing ${pause_ms} ms: ${told.requests} requests, ${(told.requests / lasts_s).toFixed(0)} a second, ${told.writes} saves, ${told.faults.length} faults, ${told.busy} times "in use"`,
)
for (const [name, times] of [
  ['saves', told.writes_ms],
  ['pages', told.reads_ms],
] as const)
  print(
    `${name}: p50 ${percentile(times, 0.5).toFixed(0)} ms, p95 ${percentile(times, 0.95).toFixed(0)} ms, p99 ${percentile(times, 0.99).toFixed(0)} ms`,
  )
const wal_MB = walBytes(data) / 1e6
print(`log of writes afterwards: ${wal_MB.toFixed(1)} MB`)
const late = memory.slice(Math.floor(memory.length / 3))
const { slope, error } = slope_MBperH(late)
print(`memory by time: ${memory.map((one) => one.rss_MB.toFixed(0)).join(' ')} MB`)
print(`from a third on: slope ${slope.toFixed(0)} MB/h, give or take ${(2 * error).toFixed(0)}`)
print(`open files: ${late[0]?.files} after a third, ${late.at(-1)?.files} at the end`)
for (const fault of told.faults.slice(0, 10)) print(fault)
running.child.kill('SIGTERM')
print(`ended with ${await running.ended}`)
rmSync(data, { recursive: true, force: true })
process.exitCode = told.faults.length > 0 || told.busy > 0 || wal_MB >= MOST_wal_MB ? 1 : 0
