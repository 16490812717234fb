/** For what the account page's buttons do: the password first, then that page again, which says that it was taken. */
import { pressMark } from '../shared/press.ts'

export const CONFIRMED = { config: { needs: 'viewer', confirmAt: `/account?${pressMark('confirmed')}` } } as const
