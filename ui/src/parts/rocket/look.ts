import type { Backend } from '../../lib/backend'

/** What a rocket looks like, for who searches the grass for it. */
export interface RocketLook {
  colours: string | null
  /** The first picture of it, as a data URL. */
  photo: string | null
}

/** Of the rocket of the fleet with this name; null if there is none, no logbook, or nothing was told or photographed. */
export async function lookOf(backend: Backend, name: string | null | undefined): Promise<RocketLook | null> {
  if (!(await backend.logbookStanding()).is_open) return null
  const { rockets } = await backend.fleet()
  const known = name ? rockets.find((it) => it.rocket.name === name) : undefined
  if (!known) return null
  const photos = await backend.photos('rocket', known.id)
  const colours = known.told?.colours?.trim() ?? ''
  const look = { colours: colours === '' ? null : colours, photo: photos[0]?.data ?? null }
  return look.colours === null && look.photo === null ? null : look
}
