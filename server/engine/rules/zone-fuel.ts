import { partKinds } from '../parts/index.ts'
import { defineRule } from './rule.ts'

export const zoneFuel = defineRule({
  id: 'zone-fuel',
  title: 'Fuel in the place',
  why: 'A contact that opens in fuel vapour can light it, and fuel dissolves what was not made for it.',
  formula: 'what the part stands (none < vapour < immersed) ≥ what its zone holds',
  limits: 'Over where it stands less; never tight.',
  judgedIn: 'part',
  appliesTo: partKinds.map((kind) => kind.id),
  needs: ['fuel of the part and of its zone'],
  sources: [
    { title: '33 CFR 183.410', place: 'electrical parts isolated from petrol parts', grade: 'read' },
    { title: 'Common practice', place: 'only parts made for it inside a tank', grade: 'common practice' },
  ],
  remedy: 'Move it out of the vapour, or fit a part that its sheet allows there. Where fuel is near, follow the sheet and local codes.',
  read: ({ circuit, component }) => {
    const zone = circuit.zoneOf(component)
    const holds = zone?.fuel
    if (!zone || holds === undefined || holds === 'none') return null
    const stated = circuit.rawRating(component, 'fuel')
    const { name } = circuit.component(component)
    if (typeof stated !== 'string' && holds === 'vapour' && !SPARKS.includes(circuit.kindOf(component))) return null
    const fails = typeof stated === 'string' && ORDER.indexOf(stated) < ORDER.indexOf(holds)
    return {
      value: null,
      limit: null,
      unit: '',
      ...(fails ? { fails: true } : { holds: true }),
      missing: typeof stated === 'string' ? [] : ['the fuel it withstands'],
      grades: [circuit.part(component).evidence?.fuel ?? 'assumed', zone.evidence?.fuel ?? 'assumed'],
      subject: name,
      statement:
        typeof stated === 'string'
          ? `${name} withstands ${WORDS[stated]}; ${zone.name} holds ${WORDS[holds]}.`
          : `${name} stands in ${zone.name}, which holds ${WORDS[holds]}; what it withstands is not known.`,
      worked() {
        return [
          { name: 'fuel the part withstands', value: typeof stated === 'string' ? (WORDS[stated] as string) : null, unit: '' },
          { name: `fuel in ${zone.name}`, value: WORDS[holds] as string, unit: '' },
        ]
      },
    }
  },
})

const ORDER = ['none', 'vapour', 'immersed']
const WORDS: Readonly<Record<string, string>> = { none: 'no fuel', vapour: 'fuel vapour', immersed: 'liquid fuel' }

/** Parts that spark when they work or fail: in vapour, where these state nothing, the question stands. */
const SPARKS = ['relay', 'switch', 'breaker', 'fuse', 'alternator', 'battery', 'pump', 'load', 'connector']
