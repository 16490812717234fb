import { inrushOf, steadyOf_A } from '../inrush.ts'
import { defineRule, workedRating } from './rule.ts'

export const contactInrush = defineRule({
  id: 'contact-inrush',
  title: 'Inrush through a contact',
  why: 'A contact bounces as it closes; what flows in that moment welds it.',
  formula: 'sum of the inrush of the loads whose nearest contact this is ≤ inrush_A (else the carry current)',
  limits: 'Tight above 80 % of the making current, over above it.',
  judgedIn: 'condition',
  appliesTo: ['relay', 'switch'],
  needs: ['inrush_A of the contact', 'inrush_A or nature of its loads'],
  sources: [
    { title: 'Switch maker’s load guide', place: 'filament lamp 10 ×, motor 6 × the steady current', grade: 'read' },
    { title: 'Relay data sheet as transcribed', place: 'making current apart from carry current', grade: 'read' },
  ],
  remedy: 'Fit a relay of a higher making current, or give one of the loads a relay of its own.',
  read: ({ circuit, solved, component }) => {
    const isRelay = circuit.kindOf(component) === 'relay'
    const stated = circuit.rating(component, 'inrush_A')
    // A switch that states no making current is judged by the factor for its load’s nature, which stands for inrush.
    if (!stated && !isRelay) return null
    const contacts = solved.contacts(component).filter((one) => one.contact !== 'break')
    const loads = [...new Set(contacts.flatMap((one) => one.loads))].filter((load) => circuit.contactOf(load) === component)
    if (loads.length === 0) return null
    const inrushes = loads.map((load) => inrushOf({ circuit, solved, load }))
    const open = inrushes.filter((one) => one.current_A === null)
    const value = inrushes.reduce((sum, one) => sum + (one.current_A ?? steadyOf_A({ circuit, solved, load: one.load })), 0)
    const carry = circuit.rating(component, 'make_A')
    // A contact makes at least what it carries; more than that has to be stated.
    const limit = stated ?? carry
    const most_A = inrushes.reduce<number | null>((sum, one) => (sum === null || one.most_A === null ? null : sum + one.most_A), 0)
    const enough = limit !== null && most_A !== null && most_A <= limit.value
    return {
      value,
      limit: limit?.value ?? null,
      unit: 'A',
      ...(stated ? {} : { tightAbove: null }),
      missing: [
        ...(stated || (limit && value <= limit.value) ? [] : ['making current']),
        ...(enough ? [] : open.map((one) => `inrush of ${circuit.component(one.load).name}`)),
      ],
      overStands: stated !== null,
      grades: [limit?.grade ?? 'assumed', ...inrushes.map((one) => one.grade)],
      subject: `${circuit.component(component).name} makes`,
      limitIs: stated ? 'making current' : 'carry current',
      worked() {
        return [
          ...inrushes.map((one) => ({
            name: `inrush of ${circuit.component(one.load).name}`,
            value: one.current_A,
            unit: 'A',
            grade: one.grade,
          })),
          workedRating(stated ? 'making current' : 'carry current', limit, 'A'),
        ]
      },
    }
  },
})
