import { defineRule } from './rule.ts'

export const fusePlacing = defineRule({
  id: 'fuse-placing',
  title: 'Fuses side by side or in a return',
  why: 'Two fuses on one conductor share badly and let through more than either; one in a return leaves the feed live when it opens.',
  formula: 'a fuse stands alone on its conductor, in the feed',
  limits: 'Tight where two stand in parallel or one stands in a return; never over.',
  judgedIn: 'wiring',
  appliesTo: ['fuse', 'breaker'],
  needs: ['the joins at its ends'],
  sources: [
    { title: '46 CFR 111.50-3(c)', place: 'no overcurrent devices in parallel', grade: 'read' },
    { title: '46 CFR 183.380(g)', place: 'a grounded conductor is not opened alone', grade: 'read' },
  ],
  remedy: 'Fit one fuse of the right rating in the feed.',
  read: ({ circuit, component }) => {
    const { name } = circuit.component(component)
    const beside = circuit.devicesBeside(component)
    const inReturn = circuit.isReturn(component) && !circuit.isFeed(component)
    if (!inReturn && !circuit.isFeed(component)) return null
    const fails = inReturn || beside.length > 0
    return {
      value: null,
      limit: null,
      unit: '',
      grades: KNOWN,
      subject: name,
      fails,
      holds: !fails,
      atMost: 'tight',
      statement: inReturn
        ? `${name} stands in a return: when it opens, the feed stays live.`
        : fails
          ? `${name} stands in parallel with ${beside.map((key) => circuit.component(key).name).join(' and ')}.`
          : `${name} stands alone in its feed.`,
    }
  },
})

/** It is seen from the joins alone. */
const KNOWN = ['datasheet'] as const
