import { ingressMeets } from '../tables/ingress-codes.ts'
import { partKinds } from '../parts/index.ts'
import { defineRule } from './rule.ts'

export const zoneWater = defineRule({
  id: 'zone-water',
  title: 'Water and dust of the place',
  why: 'Water in a contact corrodes it; dust holds the water there.',
  formula: 'the part’s IP code meets its zone’s, numeral by numeral',
  limits:
    'Over where a numeral is not met; never tight. Numerals to 6 include the lower ones; 7, 8 and 9 include splash (4) but not jets (5, 6).',
  judgedIn: 'part',
  appliesTo: partKinds.map((kind) => kind.id),
  needs: ['ingress of the part and of its zone'],
  sources: [
    { title: 'IEC 60529, ISO 20653', place: 'numerals and what they include, from comparisons', grade: 'read' },
    { title: 'ISO 20653', place: '4K, 6K, 9K', grade: 'memory' },
  ],
  remedy: 'Fit a sealed part, or move it to a drier place.',
  read: ({ circuit, component }) => {
    const zone = circuit.zoneOf(component)
    const asks = zone?.ingress ?? ''
    if (!zone || !/[1-9]/.test(asks)) return null
    const has = circuit.rawRating(component, 'ingress')
    const { name } = circuit.component(component)
    if (typeof has !== 'string' && !HAS_CONTACTS.includes(circuit.kindOf(component))) return null
    const answer = typeof has === 'string' ? ingressMeets({ part: has, zone: asks }) : 'unknown'
    return {
      value: null,
      limit: null,
      unit: '',
      ...(answer === 'fails' ? { fails: true } : { holds: true }),
      missing: answer === 'unknown' ? ['ingress code'] : [],
      grades: [circuit.part(component).evidence?.ingress ?? 'assumed', zone.evidence?.ingress ?? 'assumed'],
      subject: name,
      statement:
        typeof has !== 'string'
          ? `${name} stands in ${zone.name}, which asks for ${asks}; what it is sealed to is not known.`
          : `${name} is ${has} where ${zone.name} asks for ${asks}.${answer === 'unknown' ? ' What X stands for is not known.' : ''}`,
      worked() {
        return [
          { name: 'IP code of the part', value: typeof has === 'string' ? has : null, unit: '' },
          { name: `IP code that ${zone.name} asks for`, value: asks, unit: '' },
        ]
      },
    }
  },
})

/** Parts that water harms for certain: where these state no code, the question stands. */
const HAS_CONTACTS = ['relay', 'switch', 'module', 'connector']
