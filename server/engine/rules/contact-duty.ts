import { defineRule } from './rule.ts'

export const contactDuty = defineRule({
  id: 'contact-duty',
  title: 'Intermittent duty',
  why: 'A part made to work for moments burns when it is left on.',
  formula: 'a part of intermittent duty works only while cranking',
  limits: 'A relay left on: over. A load that the condition names as on: tight, since how long is not recorded.',
  judgedIn: 'condition',
  appliesTo: ['relay', 'load', 'pump'],
  needs: ['duty'],
  sources: [
    { title: 'Common practice', place: 'intermittent starter contactors, coil 3–5 Ω, a few minutes in ten', grade: 'common practice' },
    { title: 'the part’s own sheet', place: 'duty', grade: 'read' },
  ],
  remedy: 'Fit a part of continuous duty, or leave it off in this condition.',
  read: ({ circuit, solved, component }) => {
    if (circuit.rawRating(component, 'duty') !== 'intermittent') return null
    const { name } = circuit.component(component)
    const isRelay = circuit.kindOf(component) === 'relay'
    const { engine, on } = solved.condition
    // What drives a relay may not be recorded: it works where what hangs on its make contact is on.
    const works = isRelay
      ? solved.contacts(component).some((one) => one.contact === 'make' && one.loads.length > 0)
      : solved.isOn(component)
    if (!works) return null
    // "Everything on" is no claim that it stays on: only what a condition names is.
    if (engine !== 'cranking' && on === undefined) return null
    const plain = {
      value: null,
      limit: null,
      unit: '',
      grades: [circuit.part(component).evidence?.duty ?? ('assumed' as const)],
      subject: name,
    }
    if (engine === 'cranking')
      return { ...plain, holds: true, statement: `${name} is of intermittent duty and works while cranking (${solved.condition.name}).` }
    return {
      ...plain,
      fails: true,
      ...(isRelay ? {} : { atMost: 'tight' as const }),
      ...(isRelay ? {} : { remedy: 'Keep to the on-time that its sheet allows, or fit one of continuous duty.' }),
      statement: isRelay
        ? `${name} is of intermittent duty and stays on (${solved.condition.name}).`
        : `${name} is of intermittent duty and is on (${solved.condition.name}); for how long is not recorded.`,
    }
  },
})
