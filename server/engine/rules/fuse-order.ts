import type { Circuit } from '../circuit.ts'
import { windowOfDevice } from '../clearing.ts'
import { windowsStandApart } from '../tables/fuse-windows.ts'
import { defineRule, type Reading, workedRating } from './rule.ts'

export const fuseOrder = defineRule({
  id: 'fuse-order',
  title: 'Order of fuses in series',
  why: 'A short behind a small fuse should open that one, not the fuse that half the vehicle hangs on.',
  formula: 'rating of the outer device ≥ 2 × rating of the inner one, or their opening windows stand apart',
  limits: 'Tight where neither holds; never over.',
  judgedIn: 'wiring',
  appliesTo: ['fuse', 'breaker'],
  needs: ['rated_A and form of both'],
  sources: [{ title: 'Common practice', place: 'twice the rating, or windows that do not meet', grade: 'common practice' }],
  remedy: 'Fit a smaller inner fuse where its load allows, or a larger outer one where its conductors do.',
  read: ({ circuit, component }) => {
    // What limits its own current opens nothing; and a fuse between two batteries cuts off a battery, not the vehicle.
    const outers = [
      ...new Set(
        circuit
          .sourcesOf(component)
          .filter((source) => circuit.kindOf(source) === 'battery')
          .flatMap((source) => circuit.devicesAhead(source, component))
          .filter((outer) => circuit.batteriesLinkedBy(outer).length === 0),
      ),
    ]
    return outers.map((outer) => readingOf({ circuit, inner: component, outer }))
  },
})

function readingOf(given: { readonly circuit: Circuit; readonly inner: string; readonly outer: string }): Reading {
  const { circuit, inner, outer } = given
  const [small, large] = [circuit.rating(inner, 'rated_A'), circuit.rating(outer, 'rated_A')]
  const names = { inner: circuit.component(inner).name, outer: circuit.component(outer).name }
  const missing = [small ? '' : `rated current of ${names.inner}`, large ? '' : `rated current of ${names.outer}`].filter(
    (one) => one !== '',
  )
  const grades = [small?.grade ?? 'assumed', large?.grade ?? 'assumed'] as const
  const apart =
    small && large
      ? windowsStandApart({ inner: deviceOf(circuit, inner, small.value), outer: deviceOf(circuit, outer, large.value) })
      : false
  const worked = () => [
    workedRating(`inner, ${names.inner}`, small, 'A'),
    workedRating(`outer, ${names.outer}`, large, 'A'),
    { name: 'windows stand apart', value: apart ? 'yes' : 'not shown', unit: '' },
  ]
  if (apart && small && large && large.value < 2 * small.value)
    return {
      value: null,
      limit: null,
      unit: 'A',
      holds: true,
      grades,
      subject: names.outer,
      statement: `${names.inner} opens before ${names.outer} at every multiple listed for it.`,
      worked,
    }
  return {
    value: large?.value ?? null,
    limit: small ? 2 * small.value : null,
    unit: 'A',
    sense: 'at-least',
    tightAbove: null,
    atMost: 'tight',
    missing,
    grades,
    subject: `${names.outer} ahead of ${names.inner} has`,
    limitIs: `minimum, twice that of ${names.inner},`,
    worked,
  }
}

function deviceOf(circuit: Circuit, device: string, rated_A: number) {
  return { rated_A, window: windowOfDevice(circuit, { device, rated_A }) }
}
