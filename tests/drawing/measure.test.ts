import { expect, test } from 'vitest'
import type { PlacedPiece, PlacedWire } from '../../server/drawing/layout.ts'
import { measuresOf } from '../../server/drawing/measure.ts'
import { shape } from '../../server/drawing/shape.ts'

const node = (id: string, x: number, y: number): PlacedPiece['nodes'][number] => ({
  ...{ id, role: 'symbol', component: id, shape: shape({ width: 20, height: 20 }), x: 0, y: 0, width: 20, height: 20 },
  ...{ above: [], below: [], rows: [], other: null, side: 'right', at: { x, y } },
})
const wire = (id: string, path: readonly (readonly [number, number])[], more: Partial<PlacedWire> = {}): PlacedWire => ({
  ...{ id, conductor: id, above: [], below: [], dots: [], label: null },
  ...{ from: { node: id, port: 'a' }, to: { node: id, port: 'b' }, path: path.map(([x, y]) => ({ x, y })) },
  ...more,
})
const piece = (nodes: PlacedPiece['nodes'], wires: PlacedPiece['wires']) =>
  measuresOf({ id: 'p', sort: 'circuit', members: [], nodes, wires, width: 200, height: 200 })

test('a wire that ends on a box or runs along it is sound; one through it is not', () => {
  expect(
    piece(
      [node('f', 50, 0)],
      [
        wire('w', [
          [0, 10],
          [50, 10],
        ]),
        wire('v', [
          [0, 20],
          [90, 20],
        ]),
      ],
    ).faults,
  ).toEqual([])
  expect(
    piece(
      [node('f', 50, 0)],
      [
        wire('w', [
          [0, 10],
          [90, 10],
        ]),
      ],
    ).faults,
  ).toEqual(['w runs through f'])
})

test('a label belongs to its own wire; another through it is a fault', () => {
  const labelled = wire(
    'w',
    [
      [0, 50],
      [90, 50],
    ],
    { label: { x: 20, y: 40, width: 40, height: 20 } },
  )
  expect(piece([], [labelled]).faults).toEqual([])
  expect(
    piece(
      [],
      [
        labelled,
        wire('v', [
          [30, 0],
          [30, 45],
        ]),
      ],
    ).faults,
  ).toEqual(['v crosses the label of w'])
  expect(piece([node('f', 30, 30)], [labelled]).faults).toContain('the label of w lies on f')
})

test('crossings are counted; wires of one terminal, and wires that only touch, do not cross', () => {
  const across = wire('w', [
    [0, 50],
    [90, 50],
  ])
  expect(
    piece(
      [],
      [
        across,
        wire('v', [
          [30, 0],
          [30, 90],
        ]),
      ],
    ).crossings,
  ).toBe(1)
  expect(
    piece(
      [],
      [
        across,
        wire('v', [
          [30, 0],
          [30, 50],
        ]),
      ],
    ).crossings,
  ).toBe(0)
  const sister = wire(
    'v',
    [
      [30, 0],
      [30, 90],
    ],
    { from: across.from },
  )
  expect(piece([], [across, sister]).crossings).toBe(0)
})

test('two wires of different terminals on one line are a fault, and so is a slanting one and a box on a box', () => {
  expect(
    piece(
      [],
      [
        wire('w', [
          [0, 50],
          [90, 50],
        ]),
        wire('v', [
          [60, 50],
          [120, 50],
        ]),
      ],
    ).faults,
  ).toEqual(['w and v lie on one line'])
  expect(
    piece(
      [],
      [
        wire('w', [
          [0, 50],
          [90, 60],
        ]),
      ],
    ).faults,
  ).toEqual(['w is not drawn at right angles'])
  expect(piece([node('f', 0, 0), node('g', 19, 0)], []).faults).toEqual(['f lies on g'])
})
