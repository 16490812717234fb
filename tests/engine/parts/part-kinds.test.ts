import { describe, expect, test } from 'vitest'
import { areaOf_mm2 } from '../../../server/engine/parts/conductor-sizes.ts'
import { everyKindFields, fieldsOf, isFluid, isTerminal, partKind, partKinds, terminalsOf } from '../../../server/engine/parts/index.ts'
import type { Component, Ratings } from '../../../server/engine/vehicle.ts'

const everyKind = ['maxAmbient_degC', 'ingress', 'fuel', 'holder_A']
const fuse = ['rated_A', 'rated_V', 'breaking_A', 'form', 'size', 'resistance_ohm']
const load = [
  ...['behaviour', 'rated_V', 'current_A', 'power_W', 'nature', 'minimum_V', 'maximum_V'],
  ...['inrush_A', 'inrush_s', 'duty', 'pwmDuty', 'essential', 'starter'],
]

// The format's table of kinds, by hand: terminals to offer, then the kind's own ratings.
const table: [string, string[], string[]][] = [
  [
    'battery',
    ['+', '-'],
    [
      ...['nominal_V', 'openCircuit_V', 'internalResistance_ohm', 'capacity_Ah', 'peukert'],
      ...['coldCranking_A', 'coldCrankingTest', 'chemistry'],
    ],
  ],
  ['alternator', ['+', '-', 'sense'], ['setPoint_V', 'output_A', 'idleOutput_A']],
  ['charger', ['out', '-'], ['output_V', 'output_A']],
  ['converter', ['in', 'out', '-'], ['output_V', 'output_A', 'efficiency']],
  ['conductor', ['a', 'b'], ['material', 'crossSection_mm2', 'size', 'insulation_degC', 'insulation', 'resistance20_ohmPerM']],
  ['fuse', ['in', 'out'], fuse],
  ['breaker', ['in', 'out'], [...fuse, 'reset']],
  [
    'relay',
    ['30', '87', '87b', '87a', '85', '86'],
    [
      ...['make_A', 'break_A', 'makeByAmbient', 'inrush_A', 'rated_V', 'contactResistance_ohm'],
      ...['coil_ohm', 'pickUp20_V', 'duty', 'suppression'],
    ],
  ],
  ['switch', ['in', 'out', 'out2'], ['rated_A', 'inrush_A', 'rated_V', 'contactResistance_ohm']],
  ['module', ['in', '-', 'out1', 'out2', 'out3', 'out4'], ['channel_A', 'trip_A', 'resistance_ohm', 'total_A']],
  ['diode', ['a', 'k'], ['forward_V', 'rated_A']],
  ['block', ['1', '2', '3', '4', '5', '6', '7', '8'], ['ways', 'total_A', 'way_A', 'entryMin_mm2', 'entryMax_mm2']],
  [
    'connector',
    ['1a', '1b', '2a', '2b', '3a', '3b', '4a', '4b'],
    ['poles', 'pole_A', 'contactResistance_ohm', 'entryMin_mm2', 'entryMax_mm2'],
  ],
  ['splice', ['1', '2', '3', '4', '5', '6', '7', '8'], ['rated_A']],
  ['ground-point', ['1', '2', '3', '4', '5', '6', '7', '8'], ['rated_A']],
  ['chassis', ['1', '2', '3', '4', '5', '6', '7', '8'], ['rated_A']],
  ['load', ['+', '-'], load],
  ['pump', ['+', '-', 'inlet', 'outlet'], [...load, 'delivery']],
  ['hose', ['a', 'b'], ['service', 'bore_mm', 'working_kPa']],
]

const choices: [string, string, string[]][] = [
  ['fuse', 'fuel', ['none', 'vapour', 'immersed']],
  ['battery', 'coldCrankingTest', ['SAE', 'EN']],
  ['conductor', 'material', ['copper', 'tinned-copper', 'cca-10', 'cca-15', 'aluminium']],
  ['fuse', 'form', ['C', 'E', 'F', 'A1', 'SF30', 'SF51', 'single-bolt', 'glass', 'class-T', 'link']],
  ['breaker', 'reset', ['automatic', 'modified', 'manual']],
  ['relay', 'duty', ['continuous', 'intermittent']],
  ['relay', 'suppression', ['none', 'resistor', 'diode', 'zener']],
  ['load', 'behaviour', ['resistive', 'current', 'power']],
  ['pump', 'nature', ['resistive', 'lamp', 'motor', 'inductive', 'electronic']],
]

const units = ['A', 'V', 'W', 'ohm', 'ohmPerM', 'mm', 'mm2', 'degC', 's', 'Ah', 'kPa', 'LPerH']
const unitless = ['peukert', 'efficiency', 'ways', 'poles', 'pwmDuty']

test('every kind of the format is here, and no other', () => {
  expect(partKinds.map((kind) => kind.id).sort()).toEqual(table.map(([id]) => id).sort())
  expect(everyKindFields.map((field) => field.name).sort()).toEqual([...everyKind].sort())
  expect(partKind('dynamo')).toBeUndefined()
  expect(partKind('__proto__')).toBeUndefined()
})

describe.each(table)('%s', (id, terminals, fields) => {
  test('has a title, its terminals and its ratings', () => {
    expect(partKind(id)?.title).toMatch(/^[A-Z]/)
    expect(terminalsOf(id)).toEqual(terminals)
    expect(terminals.filter((name) => !isTerminal(id, name))).toEqual([])
    expect(
      fieldsOf(id)
        .map((field) => field.name)
        .sort(),
    ).toEqual([...fields, ...everyKind].sort())
  })

  test('labels every rating, and its unit stands in its name', () => {
    for (const field of fieldsOf(id)) {
      expect(field.label, field.name).toMatch(/^[A-Z]/)
      for (const one of field.type === 'rows' ? field.columns : field.type === 'number' ? [field] : []) {
        if (unitless.includes(one.name)) expect(one.unit).toBe('')
        else {
          expect(units, one.name).toContain(one.unit)
          expect(one.name.split('_').slice(1)).toEqual([one.unit])
        }
      }
    }
  })

  test('bounds every number', () => {
    for (const field of fieldsOf(id)) {
      if (field.type !== 'number') continue
      expect(field.max, field.name).toBeGreaterThan(0)
      expect(field.aboveZero === true || field.min !== undefined, field.name).toBe(true)
    }
  })

  test('lays inner branches between terminals it has', () => {
    for (const branch of branchesOf(id, terminals)) {
      expect(isTerminal(id, branch.from) && isTerminal(id, branch.to)).toBe(true)
      expect(isFluid(id, branch.from) || isFluid(id, branch.to)).toBe(false)
    }
  })
})

test.each(choices)('%s.%s offers its words', (id, name, words) => {
  const field = fieldsOf(id).find((one) => one.name === name)
  expect(field?.type === 'choice' ? [...field.options].sort() : undefined).toEqual([...words].sort())
})

// What each kind puts between its terminals when all those named are in use.
test.each([
  ['battery', ['+', '-'], ['+ source -']],
  ['alternator', ['+', '-', 'sense'], ['+ source -']],
  ['charger', ['out', '-'], ['out source -']],
  ['converter', ['in', 'out', '-'], ['in load -', 'out source -']],
  ['conductor', ['a', 'b'], ['a series b']],
  ['fuse', ['in', 'out'], ['in series out']],
  ['breaker', ['in', 'out'], ['in series out']],
  ['relay', ['30', '87', '85', '86'], ['30 contact-make 87', '86 coil 85']],
  ['relay', ['30', '87', '87a', '87b', '85', '86'], ['30 contact-make 87', '30 contact-make 87b', '30 contact-break 87a', '86 coil 85']],
  ['relay', ['30', '87', '86'], ['30 contact-make 87', '86 coil 85']],
  ['switch', ['in', 'out'], ['in series out']],
  ['switch', ['in', 'out', 'out2'], ['in series out', 'in series out2']],
  ['module', ['in', '-', 'out1', 'out3'], ['in series out1', 'in series out3']],
  ['diode', ['a', 'k'], ['a diode k']],
  ['connector', ['1a', '1b', '12a'], ['12a series 12b', '1a series 1b']],
  ['block', ['1', '2'], []],
  ['splice', ['1', '2'], []],
  ['ground-point', ['1', '2'], []],
  ['chassis', ['1', '2'], []],
  ['load', ['+', '-'], ['+ load -']],
  ['pump', ['+', '-', 'inlet', 'outlet'], ['+ load -']],
  ['hose', ['a', 'b'], []],
])('%s with %j in use', (id, inUse, branches) => {
  expect(
    branchesOf(id, inUse)
      .map((branch) => `${branch.from} ${branch.element} ${branch.to}`)
      .sort(),
  ).toEqual([...branches].sort())
})

test.each([
  ['switch', 'out2', true],
  ['switch', 'out1', false],
  ['module', 'out12', true],
  ['module', 'out', false],
  ['connector', '12b', true],
  ['connector', '0a', false],
  ['connector', '1c', false],
  ['block', 'stud-3', true],
  ['block', '', false],
  ['block', 'a b', false],
  ['chassis', 'front.left', true],
  ['relay', '88', false],
  ['dynamo', '+', false],
])('whether %s has terminal "%s": %s', (id, name, has) => {
  expect(isTerminal(id, name)).toBe(has)
})

test.each([
  ['pump', 'inlet', true],
  ['pump', '+', false],
  ['hose', 'a', true],
  ['conductor', 'a', false],
])('whether %s:%s carries fluid: %s', (id, name, fluid) => {
  expect(isFluid(id, name)).toBe(fluid)
})

// "4/0" is another way to write "0000"; mm² sizes are their own area.
test.each([
  ['AWG', '4/0', 107.2193],
  ['SAE', '2/0', 63.389],
  ['mm2', '2.5', 2.5],
] as const)('%s %s is %d mm²', (system, name, area_mm2) => {
  expect(areaOf_mm2({ system, name })).toBeCloseTo(area_mm2, 3)
})

test.each([
  ['AWG', '41'],
  ['AWG', '-1'],
  ['AWG', '00000'],
  ['AWG', ''],
  ['SAE', '11'],
  ['SAE', 'toString'],
  ['mm2', '0'],
  ['mm2', '-2.5'],
  ['mm2', '0x10'],
  ['mm2', '1e2'],
  ['mm2', ''],
] as const)('%s has no size "%s"', (system, name) => {
  expect(areaOf_mm2({ system, name })).toBeNull()
})

function branchesOf(id: string, terminalsInUse: readonly string[]) {
  const component: Component = { key: 'x', name: 'X', part: 'p' }
  const ratings: Ratings = {}
  return partKind(id)?.branches({ ratings, component, terminalsInUse }) ?? []
}
