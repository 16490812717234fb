/** Tells whether anything was written since. */
import type { Db } from './database.ts'

/**
 * A word that changes with every row written, by this connection or another, and never comes back while the database is open;
 * null within a transaction, whose rows may yet come to nothing. SQLite counts them itself (`total_changes()`, `PRAGMA data_version`),
 * so no writer can forget to.
 */
export function writesOf(db: Db): () => string | null {
  const here = db.$client.prepare('SELECT total_changes()').pluck()
  const elsewhere = db.$client.prepare('SELECT data_version FROM pragma_data_version').pluck()
  return () => (db.$client.inTransaction ? null : `${here.get()} ${elsewhere.get()}`)
}
