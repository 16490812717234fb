/**
 * Makes the generated networks and their operating points: `node --import tsx tests/networks/generate.ts`.
 * Needs ngspice (Debian's package); the tests read what it wrote and need no simulator.
 */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

// The same random numbers every time (Park and Miller's generator).
let seed = 20261125
const random = () => {
  seed = (seed * 48271) % 2147483647
  return seed / 2147483647
}
const between = (low: number, high: number) => low + (high - low) * random()
const round = (value: number) => Number(value.toPrecision(5))
const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)] as T

type Part = { key: string; kind: string; name: string; ratings: Record<string, unknown> }
type Component = { key: string; name: string; part: string; length_m?: number; parallel?: number }

for (let n = 1; n <= 14; n++) make(`generated-${String(n).padStart(2, '0')}`, n)

/** A key as the simulator can print it. */
function plain(key: string): string {
  return key.replaceAll('-', 'x')
}

function make(name: string, n: number): void {
  const volts = [12, 24, 6, 48][n % 4] as number
  const parts: Part[] = []
  const components: Component[] = []
  const joins: { from: string; to: string; resistance_ohm?: number }[] = []
  const netlist: string[] = []
  const loads: string[] = []
  const node = (terminal: string) =>
    (/^(block|chassis)/.test(terminal) ? (terminal.split(':')[0] as string) : terminal === 'bat:-' ? '0' : terminal).replaceAll(
      /[:+-]/g,
      (c) => ({ ':': '_', '+': 'p', '-': 'm' })[c] as string,
    )
  const put = (key: string, kind: string, ratings: Record<string, unknown>, more: object = {}) => {
    parts.push({ key: `p-${key}`, kind, name: key, ratings })
    components.push({ key, name: key, part: `p-${key}`, ...more })
  }
  const tie = (from: string, to: string) => {
    const resistance_ohm = random() < 0.5 ? 0 : round(between(0.0001, 0.002))
    joins.push(resistance_ohm === 0 ? { from, to } : { from, to, resistance_ohm })
    netlist.push(
      resistance_ohm === 0
        ? `Vj${joins.length} ${node(from)} ${node(to)} 0`
        : `Rj${joins.length} ${node(from)} ${node(to)} ${resistance_ohm}`,
    )
  }
  const wire = (key: string, from: string, to: string) => {
    const crossSection_mm2 = pick([1.5, 2.5, 4, 6, 10, 16, 25])
    const length_m = round(between(0.2, 4))
    const parallel = random() < 0.15 ? 2 : 1
    put(
      key,
      'conductor',
      { material: 'copper', crossSection_mm2, insulation_degC: 105 },
      { length_m, ...(parallel > 1 ? { parallel } : {}) },
    )
    // 100 % IACS is 58 MS/m (IEC 60028).
    netlist.push(`Rw_${plain(key)} ${node(`${key}:a`)} ${node(`${key}:b`)} ${length_m / (58 * crossSection_mm2 * parallel)}`)
    tie(from, `${key}:a`)
    tie(`${key}:b`, to)
  }
  const series = (key: string, kind: string, ends: [string, string], rating: string, ratings: Record<string, unknown>, from: string) => {
    const ohm = round(between(0.0005, 0.005))
    put(key, kind, { ...ratings, [rating]: ohm })
    netlist.push(`Rs_${plain(key)} ${node(`${key}:${ends[0]}`)} ${node(`${key}:${ends[1]}`)} ${ohm}`)
    tie(from, `${key}:${ends[0]}`)
    return `${key}:${ends[1]}`
  }
  const batteries = n % 3 === 0 ? 2 : 1
  for (let b = 0; b < batteries; b++) {
    const key = b === 0 ? 'bat' : 'bat2'
    const openCircuit_V = round(volts * between(1.03, 1.06))
    const internalResistance_ohm = round(between(0.003, 0.008) * (volts / 12))
    put(key, 'battery', { nominal_V: volts, openCircuit_V, internalResistance_ohm })
    netlist.push(
      `V_${key} e_${key} ${node(`${key}:-`)} ${openCircuit_V}`,
      `Ri_${key} e_${key} ${node(`${key}:+`)} ${internalResistance_ohm}`,
    )
  }
  put('block', 'block', { ways: 40, total_A: 500, way_A: 200 })
  put('chassis', 'chassis', {})
  wire('strap', 'chassis:b', 'bat:-')
  const main = series('main', 'fuse', ['in', 'out'], 'resistance_ohm', { rated_A: 300, rated_V: 58 }, 'bat:+')
  wire('feed-a', main, 'block:in')
  if (n % 2 === 0) wire('feed-b', main, 'block:in2')
  if (batteries === 2) {
    wire('link', 'bat2:+', 'block:link')
    wire('strap2', 'chassis:b2', 'bat2:-')
  }
  const branches = 1 + Math.floor((n * n) / 7)
  for (let k = 0; k < branches; k++) {
    let at = series(`f${k}`, 'fuse', ['in', 'out'], 'resistance_ohm', { rated_A: 30, rated_V: 58 }, `block:${k + 1}`)
    wire(`w${k}`, at, `r${k}:30`)
    const ohm = round(between(0.001, 0.005))
    put(`r${k}`, 'relay', { make_A: 40, rated_V: 58, contactResistance_ohm: ohm })
    netlist.push(`Rs_r${k} ${node(`r${k}:30`)} ${node(`r${k}:87`)} ${ohm}`)
    at = `r${k}:87`
    if (k % 3 === 1) {
      const pole = round(between(0.001, 0.004))
      put(`c${k}`, 'connector', { poles: 1, pole_A: 30, contactResistance_ohm: pole })
      netlist.push(`Rs_c${k} ${node(`c${k}:1a`)} ${node(`c${k}:1b`)} ${pole}`)
      tie(at, `c${k}:1a`)
      at = `c${k}:1b`
    }
    for (let m = 0; m < 1 + (k % 2); m++) {
      const key = `l${k}-${m}`
      loads.push(key)
      const current_A = round(between(0.5, 7))
      const behaviour = pick(['resistive', 'current', 'power'] as const)
      const power_W = round(current_A * volts)
      put(key, 'load', behaviour === 'power' ? { behaviour, rated_V: volts, power_W } : { behaviour, rated_V: volts, current_A })
      const [p, q] = [node(`${key}:+`), node(`${key}:-`)]
      if (behaviour === 'resistive') netlist.push(`Rl_${plain(key)} ${p} ${q} ${volts / current_A}`)
      else if (behaviour === 'current') netlist.push(`Il_${plain(key)} ${p} ${q} ${current_A}`)
      else
        netlist.push(
          `Bl_${plain(key)} ${p} ${q} I = v(${p},${q}) > ${volts / 2} ? ${power_W}/v(${p},${q}) : v(${p},${q})*${power_W}/${(volts * volts) / 4}`,
        )
      wire(`v${k}-${m}`, at, `${key}:+`)
      wire(`g${k}-${m}`, `${key}:-`, `chassis:g${k}-${m}`)
      // A second ground, so that the return is meshed.
      if (random() < 0.3) wire(`h${k}-${m}`, `${key}:-`, `chassis:h${k}-${m}`)
    }
  }
  const document = {
    format: 'loombook-vehicle/1',
    vehicle: { name, systemVoltage_V: volts },
    parts,
    components,
    joins,
    conditions: [{ key: 'all', name: 'all on', engine: 'off', on: loads }],
  }
  const point = simulate(netlist, { terminals: [...new Set(joins.flatMap((one) => [one.from, one.to]))], node, components, parts })
  writeFileSync(join(import.meta.dirname, `${name}.json`), `${JSON.stringify(document)}\n`)
  writeFileSync(join(import.meta.dirname, `${name}.operating-point.json`), `${JSON.stringify({ all: point })}\n`)
}

/** The operating point by ngspice; currents of two-ended parts from its node voltages and its own element values. */
function simulate(
  netlist: readonly string[],
  given: { terminals: readonly string[]; node: (terminal: string) => string; components: readonly Component[]; parts: readonly Part[] },
) {
  const folder = mkdtempSync(join(tmpdir(), 'spice-'))
  const out = join(folder, 'out.txt')
  const names = [...new Set(given.terminals.map(given.node))].filter((one) => one !== '0')
  const resistors = netlist.filter((line) => /^R[ws]_/.test(line)).map((line) => line.split(' ')[0] as string)
  const lines = [
    'generated',
    ...netlist,
    '.options reltol=1e-9 abstol=1e-12 vntol=1e-12 gmin=1e-15',
    '.control',
    'set numdgt=14',
    'op',
    ...names.map((one) => `print v(${one}) >> ${out}`),
    ...resistors.map((one) => `print @${one}[i] >> ${out}`),
    '.endc',
    '.end',
  ]
  writeFileSync(join(folder, 'in.cir'), lines.join('\n'))
  // It ends with status 1 where no plot was asked for: what it printed is looked at instead.
  spawnSync('ngspice', ['-b', join(folder, 'in.cir')], { stdio: 'ignore' })
  const values = new Map(
    [...readFileSync(out, 'utf8').matchAll(/^(\S+) = (\S+)$/gm)].map((found) => [(found[1] as string).toLowerCase(), Number(found[2])]),
  )
  const volts = (terminal: string) => (given.node(terminal) === '0' ? 0 : values.get(`v(${given.node(terminal)})`.toLowerCase()))
  const terminals_V = Object.fromEntries(given.terminals.map((terminal) => [terminal, volts(terminal)]))
  const keyOf = new Map(given.components.map((component) => [plain(component.key), component.key]))
  const components_A = Object.fromEntries(
    resistors.map((one) => [keyOf.get(one.slice(3)) as string, values.get(`@${one}[i]`.toLowerCase())]),
  )
  if ([...Object.values(terminals_V), ...Object.values(components_A)].some((value) => value === undefined))
    throw new Error('The simulator left something out.')
  return { terminals_V, components_A }
}
