/** The current picture of one condition; what the check found stands on it only where findings are shown too. */
import { identityFor, judgedFor, maskFor } from '../../../records/build-page.ts'
import { feedsOf } from '../../../records/solved.ts'
import { type CurrentStrips, currentStrips, verdictOf } from '../../shared/current-strips.ts'
import { usualCondition } from '../../shared/ledger.ts'
import { maskedDocument } from '../../shared/masked-document.ts'
import { defineScope } from '../scope.ts'

export type View = CurrentStrips & {
  readonly condition: string
  readonly conditions: readonly { readonly href: string; readonly label: string; readonly isHere: boolean }[]
}

export const currents = defineScope({
  id: 'currents',
  title: 'Currents',
  says: 'which current flows where, condition by condition',
  goesWith: 'wiring',
  presets: [],
  template: '/b/currents',
  view({ db, share, today, link, query }): View {
    const { name } = maskFor(db, share)
    const { document, report } = judgedFor(db, share)
    // By number: a condition's key is made from its name, which is not for every reader.
    const asked = typeof query.with === 'string' && /^[1-9]\d{0,3}$/.test(query.with) ? Number(query.with) - 1 : -1
    const index = report.conditions[asked] ? asked : usualCondition(document, report)
    const condition = { index, name: name(report.conditions[index]?.name ?? '') }
    const hasFindings = share.shows.pages.includes('findings')
    return {
      condition: condition.name,
      conditions: report.conditions.map((one, n) => ({
        href: link('currents', { with: String(n + 1) }),
        label: one.name,
        isHere: n === index,
      })),
      ...currentStrips({
        vehicle: name(identityFor(db, share).name),
        on: today,
        document: maskedDocument(document, name),
        report,
        condition,
        rows: feedsOf(document, index),
        href: () => '',
        verdict: (key) => (hasFindings ? verdictOf(report, key) : ''),
      }),
    }
  },
})
