import type { Circuit } from '../circuit.ts'
import { defineRule } from './rule.ts'

export const coilSuppression = defineRule({
  id: 'coil-suppression',
  title: 'Suppression of a relay’s coil',
  why: 'A coil that is switched off throws hundreds of volts into its feed; a plain diode takes them but slows the contact, which then burns on lamps and motors.',
  formula: 'suppressed where electronics share the coil’s feed; not by a plain diode where the contact switches lamps or motors',
  limits: 'Tight where either fails; never over.',
  judgedIn: 'wiring',
  appliesTo: ['relay'],
  needs: ['suppression', 'nature of the loads on its coil’s feed and behind its contacts'],
  sources: [
    { title: 'Relay maker’s note on coil suppression', place: '1000 V and more unsuppressed; a plain diode slows release', grade: 'read' },
    { title: 'Common practice', place: 'a resistor or a Zener diode at the coil', grade: 'common practice' },
  ],
  remedy: 'Fit a relay with a resistor or a Zener diode across its coil.',
  read: ({ circuit, component }) => {
    const stated = circuit.rawRating(component, 'suppression')
    // How soon a contact lets go does not hang on what feeds its coil.
    if (circuit.feedOf(component).length === 0 && stated !== 'diode') return null
    const { name } = circuit.component(component)
    const sharing = feedMates(circuit, component).find((load) => circuit.rawRating(load, 'nature') === 'electronic')
    const slowed = circuit.loadsBehind(component).find((load) => ['lamp', 'motor'].includes(String(circuit.rawRating(load, 'nature'))))
    const plain = {
      value: null,
      limit: null,
      unit: '',
      grades: [circuit.part(component).evidence?.suppression ?? ('assumed' as const)],
      subject: name,
    }
    if (typeof stated !== 'string')
      return sharing === undefined && slowed === undefined
        ? null
        : { ...plain, missing: ['coil suppression'], statement: `How the coil of ${name} is suppressed is not known.` }
    if (stated === 'none' && sharing !== undefined)
      return {
        ...plain,
        fails: true,
        atMost: 'tight',
        statement: `The coil of ${name} is not suppressed and shares its feed with ${circuit.component(sharing).name}.`,
      }
    if (stated === 'diode' && slowed !== undefined)
      return {
        ...plain,
        fails: true,
        atMost: 'tight',
        statement: `The coil of ${name} has a plain diode and its contact switches ${circuit.component(slowed).name}.`,
      }
    return { ...plain, holds: true, statement: `The coil of ${name} is suppressed as its neighbours need.` }
  },
})

/** Loads that hang on the coil's last fuse, or on its whole feed where it has none. */
function feedMates(circuit: Circuit, relay: string): readonly string[] {
  const feed = circuit.feedOf(relay)
  const device = feed.findLast((key) => ['fuse', 'breaker'].includes(circuit.kindOf(key)))
  const last = device ?? feed.find((key) => circuit.kindOf(key) === 'conductor')
  return last === undefined ? [] : circuit.loadsBehind(last).filter((load) => load !== relay)
}
