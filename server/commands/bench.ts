/** `npm run bench`: the check's time, how it grows, and a vehicle's page against a bare reply of the same bytes. `-- household`: a large one's pages. `-- restore`: a backup's restore. */
import fastify from 'fastify'
import { buildApp } from '../app.ts'
import { checkVehicle } from '../engine/rules/check.ts'
import type { Component, Join, Part, VehicleDocument } from '../engine/vehicle.ts'
import { systemClock } from '../records/clock.ts'
import { openDatabase } from '../records/database.ts'
import { loadDemo } from '../records/demo/index.ts'
import { createOwner, signIn } from '../records/people.ts'
import { benchHousehold } from './bench-household.ts'
import { benchRestore } from './bench-restore.ts'

/** Long enough for the code to be compiled as it is in a server that has been up for a while. */
const WARM_ms = 5000

if (process.argv[2] === 'household') await benchHousehold(process.argv[3], process.argv[4])
else if (process.argv[2] === 'restore') await benchRestore(Number(process.argv[3] ?? 400))
else await benchCheck()

async function benchCheck(): Promise<void> {
  print(`check of 400 components: ${medianOf(400, 30).toFixed(1)} ms, median of 30, warm`)
  const times = [100, 1000, 10_000].map((size) => ({ size, ms: medianOf(size, size > 5000 ? 3 : 30) }))
  for (const one of times) print(`check of ${one.size}: ${one.ms.toFixed(1)} ms`)
  const [first, last] = [times[0], times[2]] as [{ size: number; ms: number }, { size: number; ms: number }]
  print(`growth exponent from 100 to 10,000: ${(Math.log(last.ms / first.ms) / Math.log(last.size / first.size)).toFixed(2)}`)
  await pages()
}

/** A vehicle of about `size` components: fused branches of wire, relay, wire, load and return. */
function generated(size: number): VehicleDocument {
  const parts: Part[] = [
    { key: 'battery', kind: 'battery', name: 'battery', ratings: { openCircuit_V: 12.7, internalResistance_ohm: 0.0001, nominal_V: 12 } },
    { key: 'wire', kind: 'conductor', name: 'wire', ratings: { material: 'copper', crossSection_mm2: 2.5, insulation_degC: 105 } },
    { key: 'fuse', kind: 'fuse', name: 'fuse', ratings: { rated_A: 15, rated_V: 32, form: 'C' } },
    { key: 'relay', kind: 'relay', name: 'relay', ratings: { make_A: 30, rated_V: 16 } },
    { key: 'load', kind: 'load', name: 'load', ratings: { behaviour: 'power', rated_V: 12, power_W: 10 } },
    { key: 'block', kind: 'block', name: 'block', ratings: { ways: 100, total_A: 500, way_A: 50 } },
    { key: 'chassis', kind: 'chassis', name: 'chassis', ratings: {} },
  ]
  const components: Component[] = [
    { key: 'bat', name: 'bat', part: 'battery', zone: 'z' },
    { key: 'block', name: 'block', part: 'block', zone: 'z' },
    { key: 'chassis', name: 'chassis', part: 'chassis', zone: 'z' },
  ]
  const joins: Join[] = [
    { from: 'bat:+', to: 'block:in', resistance_ohm: 0.0001 },
    { from: 'bat:-', to: 'chassis:b' },
  ]
  for (let n = 0; components.length < size; n++) {
    for (const [key, part] of [
      [`f${n}`, 'fuse'],
      [`w${n}`, 'wire'],
      [`r${n}`, 'relay'],
      [`v${n}`, 'wire'],
      [`l${n}`, 'load'],
      [`g${n}`, 'wire'],
    ] as const)
      components.push({ key, name: key, part, zone: 'z', ...(part === 'wire' ? { length_m: 1 } : {}) })
    const chain = [
      `block:${n}`,
      `f${n}:in`,
      `f${n}:out`,
      `w${n}:a`,
      `w${n}:b`,
      `r${n}:30`,
      `r${n}:87`,
      `v${n}:a`,
      `v${n}:b`,
      `l${n}:+`,
      `l${n}:-`,
      `g${n}:a`,
      `g${n}:b`,
      `chassis:${n}`,
    ]
    for (let at = 0; at < chain.length; at += 2) joins.push({ from: chain[at] as string, to: chain[at + 1] as string })
  }
  return {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'generated', systemVoltage_V: 12 },
    zones: [{ key: 'z', name: 'z', ambient_degC: 30 }],
    parts,
    components,
    joins,
  }
}

async function pages(): Promise<void> {
  const db = openDatabase(':memory:')
  const owner = createOwner(db, systemClock, { name: 'Owner', password: 'a long enough word' })
  if (!owner.ok) throw new Error('no owner')
  const demo = loadDemo(db, systemClock, owner.value)
  const signed = await signIn(db, systemClock, { name: 'Owner', password: 'a long enough word' })
  if (!demo.ok || !signed.ok || signed.value.state !== 'in') throw new Error('no demonstration')
  const app = await buildApp({ db, clock: systemClock, config: { data: '', host: '', port: 0, timeZone: 'UTC' } })
  const request = { url: `/vehicles/${demo.value.vehicleIds[0]}`, headers: { cookie: `loombook_session=${signed.value.token}` } }
  const body = (await app.inject(request)).body
  const bare = fastify()
  bare.get('/', async (_request, reply) => reply.type('text/html').send(body))
  let asked = 0
  const anew = await perSecond(() => app.inject({ ...request, url: `${request.url}?asked=${asked++}` }))
  const again = await perSecond(() => app.inject(request))
  const limit = await perSecond(() => bare.inject('/'))
  const ratio = (ours: number) => `${ours.toFixed(0)}/s, ratio ${(ours / limit).toFixed(3)}`
  print(
    `vehicle page of ${body.length} bytes: made anew each time ${ratio(anew)}; asked for again ${ratio(again)}; bare reply of the same bytes: ${limit.toFixed(0)}/s`,
  )
}

async function perSecond(ask: () => Promise<unknown>): Promise<number> {
  for (let n = 0; n < 5; n++) await ask()
  const start = performance.now()
  let count = 0
  for (; performance.now() - start < 2000; count++) await ask()
  return (count * 1000) / (performance.now() - start)
}

/** Median ms of a check of one and the same vehicle. */
function medianOf(size: number, rounds: number): number {
  const vehicle = generated(size)
  return median(() => checkVehicle(vehicle), rounds)
}

function median(work: () => unknown, rounds: number): number {
  const taken: number[] = []
  for (const start = performance.now(); performance.now() - start < WARM_ms; ) work()
  for (let n = 0; n < rounds; n++) {
    const start = performance.now()
    work()
    taken.push(performance.now() - start)
  }
  return taken.sort((a, b) => a - b)[Math.floor(taken.length / 2)] as number
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
