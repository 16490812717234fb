/** Which entries count, said in SQL for questions that need no fold. */

/** True of an entry `e` that stands: no version has taken its place, and it is not withdrawn, or its withdrawal was itself withdrawn. */
export const standingEntry = `e.correction IS NOT 'withdrawn' AND NOT EXISTS (
  SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND (c.correction = 'replaced'
    OR NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn')))`
