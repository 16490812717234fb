/** `node --import tsx server/commands/bench-drawing.ts`: the wiring drawing of a vehicle of 150 components: first, laid out anew, kept, its bytes, and against the bare layout library. */
import { gzipSync } from 'node:zlib'
import ELK, { type ElkNode } from 'elkjs/lib/elk.bundled.js'
import { startDrawings } from '../drawing/drawings.ts'
import { measuresOf } from '../drawing/measure.ts'
import { sheetSvg } from '../drawing/sheet-svg.ts'
import type { Drawing } from '../drawing/wiring-drawing.ts'
import type { VehicleDocument } from '../engine/vehicle.ts'
import { drawingWords } from '../pages/shared/wiring-words.ts'
import { fixedClock } from '../records/clock.ts'
import { openDatabase } from '../records/database.ts'
import { loadDemo } from '../records/demo/index.ts'
import { createOwner } from '../records/people.ts'
import { reportOn } from '../records/projection.ts'

const ROUNDS = 7
const document = demonstration()
const drawings = startDrawings()
const words = drawingWords(document)
print(`${document.vehicle.name}: ${document.components.length} components, ${document.joins.length} joins`)

let blocked_ms = 0
const watch = watchLoop()
const first = await timed(() => drawings.wiring(document, words))
print(
  `first drawing, the thread's start included: ${first.ms.toFixed(0)} ms; the server's own thread was held up for at most ${watch().toFixed(0)} ms`,
)
const anew: number[] = []
const used = process.cpuUsage()
for (let n = 0; n < ROUNDS; n++) anew.push((await timed(() => drawings.wiring({ ...document, asOf: `2026-01-0${n + 1}` }, words))).ms)
const { user, system } = process.cpuUsage(used)
print(
  `laid out anew, thread warm: ${median(anew).toFixed(0)} ms, median of ${ROUNDS} (target 1000); ${((user + system) / 1000 / ROUNDS).toFixed(0)} ms of processor time each`,
)
const again: number[] = []
for (let n = 0; n < ROUNDS; n++) again.push((await timed(async () => svgsOf(await drawings.wiring(document, words)))).ms)
print(`kept, with its SVG written anew: ${median(again).toFixed(1)} ms, median of ${ROUNDS} (target 10)`)

const drawing = first.value
const svg = svgsOf(drawing).join('')
print(`SVG of ${drawing.sheets.length} sheets: ${kilo(svg.length)} kB, compressed ${kilo(gzipSync(svg).length)} kB (target 150)`)
const measures = drawing.sheets.flatMap((sheet) => sheet.pieces).map(measuresOf)
const sum = (of: (one: (typeof measures)[number]) => number) => measures.reduce((all, one) => all + of(one), 0)
print(
  `${sum((one) => one.wires)} wires, ${sum((one) => one.bends)} bends, ${sum((one) => one.crossings)} crossings, ${sum((one) => one.faults.length)} faults of geometry`,
)

const bare: number[] = []
const elk = new ELK.default()
for (let n = 0; n < ROUNDS; n++) bare.push((await timed(() => elk.layout(bareGraph()))).ms)
print(
  `the layout library by itself, the whole vehicle as one plain graph, same thread: ${median(bare).toFixed(0)} ms; drawing anew ÷ this: ${(median(anew) / median(bare)).toFixed(2)}`,
)
await drawings.close()

/** Components as boxes, conductors and joins as edges: no ports, words, sheets or references. */
function bareGraph(): ElkNode {
  const { symbols, points, links } = drawing.linked
  return {
    id: 'whole',
    layoutOptions: { 'elk.algorithm': 'layered', 'elk.direction': 'RIGHT', 'elk.edgeRouting': 'ORTHOGONAL' },
    children: [...symbols.keys(), ...points.keys()].map((id) => ({ id, width: 60, height: 40 })),
    edges: links.map((link, n) => ({ id: `e${n}`, sources: [link.from.component], targets: [link.to.component] })),
  }
}

function svgsOf(drawing: Drawing): readonly string[] {
  const told = {
    symbol: (key: string) => ({ href: `/c/${key}`, title: key }),
    wire: (key: string) => ({ href: `/c/${key}`, title: key, isHeavy: false }),
    tie: String,
    anchor: String,
  }
  const heading = { vehicle: document.vehicle.name, what: 'Wiring drawing', title: '', date: '', describes: '' }
  return drawing.sheets.map((sheet) => sheetSvg({ drawing, sheet, told, heading }))
}

/** The largest demonstration vehicle: 148 components. */
function demonstration(): VehicleDocument {
  const db = openDatabase(':memory:')
  const clock = fixedClock('2026-11-25T12:00:00Z')
  const owner = createOwner(db, clock, { name: 'Bench', password: 'a long enough word' })
  if (!owner.ok) throw new Error('no owner')
  const demo = loadDemo(db, clock, owner.value)
  if (!demo.ok) throw new Error('no demonstration vehicles')
  return reportOn(db, owner.value, demo.value.vehicleIds[0] as string).document
}

/** How long this thread could not turn to anything else, at most. */
function watchLoop(): () => number {
  let last = performance.now()
  const timer = setInterval(() => {
    blocked_ms = Math.max(blocked_ms, performance.now() - last - 5)
    last = performance.now()
  }, 5)
  return () => {
    clearInterval(timer)
    return blocked_ms
  }
}

async function timed<T>(work: () => Promise<T>): Promise<{ readonly value: T; readonly ms: number }> {
  const from = performance.now()
  const value = await work()
  return { value, ms: performance.now() - from }
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] as number
}

function kilo(bytes: number): string {
  return (bytes / 1000).toFixed(1)
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
