import { expect, test } from 'vitest'
import { heldBy } from '../../server/records/archive-write.ts'
import { newId } from '../../server/records/ids.ts'
import { photoWeight } from '../../server/records/photo-weight.ts'
import { photos } from '../../server/records/schema.ts'
import { household, openBook } from './book.ts'

test('each original is weighed once, for whom it is asked, and anew after each change', () => {
  const { db, clock, actor, vehicleId } = openBook()
  const neighbour = household(db, clock, 'Neighbour')
  const put = (of: typeof actor, content: string, bytes: number) => {
    const id = newId(clock)
    const sha256 = content.repeat(64)
    const row = { id, householdId: of.householdId, sha256, type: 'image/jpeg', bytes, fileName: '', caption: '', recordedBy: of.personId }
    db.insert(photos)
      .values({ ...row, vehicleId: of === actor ? vehicleId : null, recordedAt: '2026-06-01T12:00:00.000Z' })
      .run()
    return id
  }
  const weights = () => [actor.householdId, neighbour.householdId, null].map((of) => Object.values(photoWeight(db, of)))
  expect(weights()).toEqual([
    [0, 0, 0],
    [0, 0, 0],
    [0, 0, 0],
  ])
  put(actor, 'a', 10)
  put(actor, 'b', 200)
  expect(weights()).toEqual([
    [2, 2, 210],
    [0, 0, 0],
    [2, 2, 210],
  ])
  const again = put(actor, 'a', 10)
  put(actor, 'a', 10)
  put(neighbour, 'a', 10)
  put(neighbour, 'c', 3000)
  const all = [
    [4, 2, 210],
    [2, 2, 3010],
    [6, 3, 3210],
  ]
  expect(weights()).toEqual(all)
  expect(heldBy(db, actor)).toMatchObject({ photos: 4, photos_bytes: 210 })

  // Within a transaction that comes to nothing, and after it.
  const undone = db.$client.transaction(() => {
    put(actor, 'd', 40000)
    expect(weights()[0]).toEqual([5, 3, 40210])
    throw new Error('undone')
  })
  expect(undone).toThrow('undone')
  expect(weights()).toEqual(all)

  db.$client.prepare('DELETE FROM photos WHERE id = ?').run(again)
  expect(weights()).toEqual([
    [3, 2, 210],
    [2, 2, 3010],
    [5, 3, 3210],
  ])
})
