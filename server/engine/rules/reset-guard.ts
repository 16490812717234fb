import { defineRule } from './rule.ts'

export const resetGuard = defineRule({
  id: 'reset-guard',
  title: 'Self-resetting breakers',
  why: 'A breaker that closes again by itself heats a short over and over; something ahead of it has to end that.',
  formula: 'between each battery and a breaker of automatic reset stands another fuse or breaker',
  limits: 'Tight where none does; never over.',
  judgedIn: 'wiring',
  appliesTo: ['breaker'],
  needs: ['reset'],
  sources: [{ title: 'SAE J553', place: 'type 1, only with another limiting device upstream', grade: 'read' }],
  remedy: 'Put a fuse ahead of it, or fit a breaker that stays open.',
  read: ({ circuit, component }) => {
    const reset = circuit.rawRating(component, 'reset')
    const { name } = circuit.component(component)
    const batteries = circuit.sourcesOf(component).filter((source) => circuit.kindOf(source) === 'battery')
    const bare = batteries.find((source) =>
      circuit.devicesBetween(source, component).every((device) => isAutomatic(circuit.rawRating(device, 'reset'))),
    )
    if (bare === undefined && reset !== 'automatic') return null
    const plain = {
      value: null,
      limit: null,
      unit: '',
      grades: [circuit.part(component).evidence?.reset ?? ('assumed' as const)],
      subject: name,
    }
    if (typeof reset !== 'string')
      return {
        ...plain,
        holds: true,
        missing: ['how it resets'],
        statement: `How ${name} resets is not known, and nothing stands ahead of it.`,
      }
    if (reset !== 'automatic') return null
    return bare === undefined
      ? { ...plain, holds: true, statement: `${name} resets by itself and has a device ahead of it.` }
      : {
          ...plain,
          fails: true,
          atMost: 'tight',
          statement: `${name} resets by itself and nothing ahead of it ends a short from ${circuit.component(bare).name}.`,
        }
  },
})

function isAutomatic(reset: unknown): boolean {
  return reset === 'automatic'
}
