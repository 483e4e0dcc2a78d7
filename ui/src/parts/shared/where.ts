/** The calm screens, in the order a flyer needs them. */
export const CALM = ['today', 'rockets', 'fields', 'past', 'safe', 'share', 'practice', 'phone', 'units'] as const
/** One of them. */
export type Calm = (typeof CALM)[number]
