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
    const plain = { value: null, limit: null, unit: '', grades: ['datasheet' as const], subject: name }
    if (inReturn)
      return { ...plain, fails: true, atMost: 'tight', statement: `${name} stands in a return: when it opens, the feed stays live.` }
    if (beside.length > 0)
      return {
        ...plain,
        fails: true,
        atMost: 'tight',
        statement: `${name} stands in parallel with ${beside.map((key) => circuit.component(key).name).join(' and ')}.`,
      }
    return { ...plain, holds: true, statement: `${name} stands alone in its feed.` }
  },
})
