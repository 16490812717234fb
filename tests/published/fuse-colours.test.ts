import { expect, test } from 'vitest'
import { fuseColour } from '../../server/engine/tables/fuse-colours.ts'

test('colours of blade fuses, ISO 8820-3 types C and F, as a trade table compiled with a fuse maker prints them', () => {
  // Read there; where a second copy calls 1 A tan, that is its slip: tan is 5 A.
  const printed = '0.5 dark blue, 1 black, 2 grey, 3 violet, 4 pink, 5 tan, 7.5 brown, 10 red, 15 light blue, 20 yellow, 25 clear, 30 green'
  for (const row of printed.split(', ')) {
    const [, rated, colour] = /^([\d.]+) (.+)$/.exec(row) as unknown as [string, string, string]
    for (const form of ['C', 'F']) expect(fuseColour(form, Number(rated)), row).toMatchObject({ colour, grade: 'read' })
  }
})

test('the other forms, from memory and said to be so; no colour where none is agreed', () => {
  expect(fuseColour('E', 50)).toEqual({ colour: 'red', source: 'ISO 8820-3, type E', grade: 'memory' })
  expect(fuseColour('A1', 40)).toMatchObject({ colour: 'green', grade: 'memory' })
  expect(fuseColour('C', 40)).toMatchObject({ colour: 'orange', grade: 'memory' })
  for (const [form, rated] of [
    ['E', 25],
    ['E', 35],
    ['SF30', 40],
    ['SF51', 200],
    ['single-bolt', 100],
    ['glass', 10],
    ['link', 30],
    ['C', 12],
    ['F', 40],
    ['toString', 10],
  ] as const)
    expect(fuseColour(form, rated), `${form} ${rated}`).toBeNull()
})
