import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'

const root = join(import.meta.dirname, '..', '..')
const sample = join(root, 'tests', 'networks', 'small.json')
const folder = mkdtempSync(join(tmpdir(), 'loombook-check-'))
afterAll(() => rmSync(folder, { recursive: true }))

type Finding = Readonly<Record<string, unknown>> & {
  readonly verdict: string
  readonly value: number | null
  readonly limit: number | null
}
type Printed = {
  readonly findings: readonly Finding[]
  readonly conditions: readonly {
    readonly key: string
    readonly solved: boolean
    readonly terminals_V: Readonly<Record<string, number | null>>
    readonly components: Readonly<Record<string, Readonly<Record<string, number | null>>>>
  }[]
}

/** A battery of 12 V behind 10 mΩ, a fuse, 2 m of 10 mm² and a load of that current, joined in a ring. */
function ring(given: { readonly current_A: number; readonly fuse_A: number }) {
  return {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'Ring', systemVoltage_V: 12 },
    zones: [{ key: 'cabin', name: 'Cabin', ambient_degC: 20, peak_degC: 20 }],
    parts: [
      {
        key: 'bat',
        kind: 'battery',
        name: 'Battery',
        ratings: { nominal_V: 12, openCircuit_V: 12, internalResistance_ohm: 0.01, capacity_Ah: 70 },
      },
      {
        key: 'fuse',
        kind: 'fuse',
        name: 'Fuse',
        ratings: { rated_A: given.fuse_A, rated_V: 32, form: 'C', breaking_A: 2000, resistance_ohm: 0, holder_A: 30 },
      },
      {
        key: 'wire',
        kind: 'conductor',
        name: 'Wire',
        ratings: { material: 'copper', crossSection_mm2: 10, insulation_degC: 105, insulation: 'PVC', resistance20_ohmPerM: 0.002 },
      },
      {
        key: 'lamp',
        kind: 'load',
        name: 'Lamp',
        ratings: { behaviour: 'current', rated_V: 12, current_A: given.current_A, nature: 'resistive', minimum_V: 9, maximum_V: 16 },
      },
    ],
    components: [
      { key: 'bat', name: 'Battery', part: 'bat', zone: 'cabin' },
      { key: 'f1', name: 'Fuse', part: 'fuse', zone: 'cabin' },
      { key: 'out', name: 'Feed', part: 'wire', zone: 'cabin', length_m: 2, bundle: 1 },
      { key: 'back', name: 'Return', part: 'wire', zone: 'cabin', length_m: 2, bundle: 1 },
      { key: 'lamp', name: 'Lamp', part: 'lamp', zone: 'cabin' },
    ],
    joins: [
      { from: 'bat:+', to: 'f1:in' },
      { from: 'f1:out', to: 'out:a' },
      { from: 'out:b', to: 'lamp:+' },
      { from: 'lamp:-', to: 'back:a' },
      { from: 'back:b', to: 'bat:-' },
    ],
    conditions: [{ key: 'on', name: 'Lamp on', engine: 'off' }],
  }
}

describe('check FILE --json', () => {
  const run = check(sample, '--json')
  const printed = JSON.parse(run.stdout) as Printed

  test('prints one object with the fields of the format and no others', () => {
    expect(Object.keys(printed)).toEqual(['format', 'asOf', 'version', 'conditions', 'findings'])
    expect(printed).toMatchObject({ format: 'loombook-report/1', version: expect.any(String) })
    expect(printed.conditions.map((condition) => condition.key)).toEqual(['all', 'some'])
    for (const condition of printed.conditions) {
      expect(Object.keys(condition)).toEqual(['key', 'solved', 'unfed', 'terminals_V', 'components'])
      for (const one of Object.values(condition.components)) expect(Object.keys(one)).toEqual(['current_A', 'drop_V', 'temperature_degC'])
    }
    expect(printed.findings.length).toBeGreaterThan(0)
    for (const finding of printed.findings) {
      expect(Object.keys(finding)).toEqual([
        ...[
          'rule',
          'component',
          'condition',
          'verdict',
          'value',
          'limit',
          'unit',
          'used',
          'says',
          'remedy',
          'missing',
          'evidence',
          'sources',
        ],
      ])
      expect(['over', 'tight', 'unknown', 'clear']).toContain(finding.verdict)
    }
  })

  test('reports every component that has two electrical terminals', () => {
    const document = JSON.parse(readFileSync(sample, 'utf8')) as ReturnType<typeof ring>
    const oneNode = new Set(['block', 'splice', 'ground-point', 'chassis'])
    const kinds = new Map(document.parts.map((part) => [part.key, part.kind]))
    const expected = document.components.filter((one) => !oneNode.has(kinds.get(one.part) ?? '')).map((one) => one.key)
    expect(Object.keys(printed.conditions[0]?.components ?? {})).toEqual(expect.arrayContaining(expected))
  })

  test('says each rule and component once', () => {
    const said = printed.findings.map((finding) => `${finding.rule} ${finding.component}`)
    expect(new Set(said).size).toBe(said.length)
  })

  test('agrees by its exit status with its findings', () => {
    expect(run.status).toBe(printed.findings.some((finding) => finding.verdict === 'over') ? 1 : 0)
    expect(run.stderr).toBe('')
  })
})

describe('exit status and figures, by hand', () => {
  test('0: 5 A in 2 m and 2 m at 2 mΩ/m, held at 20 °C, loses 20 mV each way', () => {
    const run = check(written('fine', ring({ current_A: 5, fuse_A: 10 })), '--json', '--conductor-temperature', '20')
    expect([run.status, run.stderr]).toEqual([0, ''])
    const [condition] = (JSON.parse(run.stdout) as Printed).conditions
    expect(condition?.solved).toBe(true)
    // U = I·R = 5 A · 2 m · 0.002 Ω/m = 0.02 V
    expect(condition?.components.out?.drop_V).toBeCloseTo(0.02, 9)
    expect(condition?.components.out?.current_A).toBeCloseTo(5, 9)
    expect(condition?.components.out?.temperature_degC).toBe(20)
    // 12 V − 5 A · 0.01 Ω (battery) − 0.02 V = 11.93 V
    expect(condition?.terminals_V['lamp:+']).toBeCloseTo(11.93, 9)
    expect(condition?.terminals_V['lamp:-']).toBeCloseTo(0.02, 9)
    expect(condition?.terminals_V['bat:-']).toBe(0)
  })

  test('at 70 °C the same wire loses more by copper’s coefficient', () => {
    const run = check(written('warm', ring({ current_A: 5, fuse_A: 10 })), '--json', '--conductor-temperature', '70')
    // IEC 60028: α₂₀ = 0.00393 /K; 0.02 V · (1 + 0.00393 · 50) = 0.02393 V
    expect((JSON.parse(run.stdout) as Printed).conditions[0]?.components.out?.drop_V).toBeCloseTo(0.02393, 6)
  })

  test('1: 12 A through a fuse of 10 A', () => {
    const file = written('over', ring({ current_A: 12, fuse_A: 10 }))
    const run = check(file, '--json')
    expect(run.status).toBe(1)
    const over = (JSON.parse(run.stdout) as Printed).findings.filter((finding) => finding.verdict === 'over')
    expect(over).toContainEqual(expect.objectContaining({ rule: 'fuse-load', component: 'f1', condition: 'on', unit: 'A' }))
    expect(over.find((finding) => finding.rule === 'fuse-load')?.value).toBeCloseTo(12, 6)
  })

  test('text: findings worst first, then a line for the condition', () => {
    const run = check(written('over-text', ring({ current_A: 12, fuse_A: 10 })))
    expect(run.status).toBe(1)
    const [findings, conditions] = run.stdout.trimEnd().split('\n\n')
    const worst = ['over', 'tight', 'unknown', 'clear']
    const ranks = (findings ?? '').split('\n').map((line) => worst.indexOf(line.split(' ')[0] ?? ''))
    expect(ranks).not.toContain(-1)
    expect(ranks).toEqual([...ranks].sort((a, b) => a - b))
    expect(ranks[0]).toBe(0)
    expect(conditions?.split('\n')).toEqual(['Lamp on: solved'])
  })
})

describe('2: what is refused says why on the error stream, and prints nothing else', () => {
  test('a document with faults names the path of each', () => {
    const document = ring({ current_A: 5, fuse_A: 10 })
    const wrong = { ...document, extra: 1, vehicle: { name: 'Ring' }, joins: [...document.joins, { from: 'bat:+', to: 'ghost:a' }] }
    const run = check(written('wrong', wrong), '--json')
    expect([run.status, run.stdout]).toEqual([2, ''])
    const paths = run.stderr.split('\n').flatMap((line) => /^ {2}(\S+): /.exec(line)?.[1] ?? [])
    expect(paths).toEqual(['extra', 'joins[5].to', 'vehicle.systemVoltage_V'])
  })

  test.each([
    ['no file named', [], /Which document/],
    ['two files', [sample, sample], /One document/],
    ['an option that there is not', [sample, '--yaml'], /no option --yaml/],
    ['a temperature that is none', [sample, '--conductor-temperature', 'warm'], /degrees Celsius.*"warm"/],
    ['a temperature left out', [sample, '--conductor-temperature'], /degrees Celsius/],
    ['a temperature colder than can be', [sample, '--conductor-temperature', '-300'], /degrees Celsius/],
    ['a file that is not there', [join(folder, 'nowhere.json')], /nowhere\.json cannot be read/],
    ['a folder', [folder], /cannot be read/],
  ])('%s', (_, words, says) => {
    const run = check(...words)
    expect([run.status, run.stdout]).toEqual([2, ''])
    expect(run.stderr).toMatch(says)
    expect(run.stderr).not.toMatch(/\n\s+at /)
  })

  test('a file that is not JSON', () => {
    const file = join(folder, 'broken.json')
    writeFileSync(file, '{ "format": ')
    const run = check(file)
    expect([run.status, run.stdout]).toEqual([2, ''])
    expect(run.stderr).toMatch(/not JSON/)
  })
})

function check(...words: string[]) {
  return spawnSync(process.execPath, ['--import', 'tsx', 'server/commands/check.ts', ...words], { cwd: root, encoding: 'utf8' })
}

function written(name: string, document: object): string {
  const file = join(folder, `${name}.json`)
  writeFileSync(file, JSON.stringify(document))
  return file
}
