import { defineRule } from './rule.ts'

/** Judged in check.ts after all others: it reads their findings. */
export const ratingEvidence = defineRule({
  id: 'rating-evidence',
  title: 'Evidence for a rating',
  why: 'A limit that was only assumed may not be there; the nearer one runs to it, the more that matters.',
  formula: 'a judged figure rests on assumed and more than 60 % of a limit is used: tight at most',
  limits: 'Tight above 60 % of a limit that is only assumed; never over.',
  judgedIn: 'wiring',
  appliesTo: [],
  needs: [],
  sources: [{ title: 'Common practice', place: 'figures on assumption are confirmed before they are relied on', grade: 'common practice' }],
  remedy: 'Find the part’s sheet or marking and enter the figure with its evidence.',
  read: () => null,
})
