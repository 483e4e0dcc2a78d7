import { thisPhone } from '../device/phone'
import type { Fix } from '../device/position'
import { calmCalls } from './calm'
import { args, type Backend, type Fall, type HeightCheck, type Led, type Light, type Opening, type WalkStep } from './client'
import type { Answer, Flight, LatLon } from './generated'
import type { FlightSummary } from './client'

/** Asks the core by the name of a call; JSON comes back. */
export type Ask = <T>(call: string, body: object) => Promise<T>
/** The same for calls that answer in bytes. */
export type AskBytes = (call: string, body: object) => Promise<ArrayBuffer>

const place = ({ lat, lon }: LatLon): LatLon => ({ lat, lon })

/** All calls, the same whichever way leads to the core. */
export function allCalls(ask: Ask, bytes: AskBytes): Backend {
  return {
    ...calmCalls(ask, bytes),
    landingDensity: (id, part, mode) => bytes('landing_density', args.density(id, part, mode)),
    listFlights: () => ask<FlightSummary[]>('list_flights', {}),
    showFlight: (id) => ask<Flight>('show_flight', { id }),
    locateFlight: (id, from) => ask<Answer>('locate_flight', args.locate(id, from)),
    tellFlight: async (flight) => (await ask<{ id: string }>('tell_flight', { flight })).id,
    takeBackFlight: async (id) => {
      await ask<unknown>('take_back_flight', { id })
    },
    answerFlight: (flight, from) => ask<Answer>('answer_flight', { flight, from: from && place(from) }),
    addEvidence: (id, evidence, from) => ask<Answer>('add_evidence', { id, evidence, from: from && place(from) }),
    appendTrack: async (piece) => {
      await ask<unknown>('append_track', { ...piece, from: piece.from && place(piece.from), phone: thisPhone() })
    },
    roughAnswer: (id, from) => ask<Answer | null>('rough_answer', args.locate(id, from)),
    watchFall: (id) => ask<Fall>('watch_fall', { id }),
    noteFind: (find) => ask<Flight>('note_find', { ...find, at: place(find.at), from: find.from && place(find.from) }),
    closeFlight: async (id, how) => {
      await ask<unknown>('close_flight', { id, how })
    },
    expectedOpening: (flight) => ask<Opening>('expected_opening', { flight }),
    leadTo: (at, from) => ask<Led>('lead_to', { at: place(at), from: place(from) }),
    walkTo: (id, from, accuracy_m, to, home, stops_short = false) =>
      ask<WalkStep>('walk_to', { id, from: place(from), accuracy_m, to: place(to), home: home && place(home), stops_short }),
    position: () => ask<Fix | null>('position', {}),
    lightLeft: (at, now) => ask<Light>('light_left', { at: place(at), now }),
    keepPhoto: async (rocket, flight, part, data) => {
      await ask<unknown>('add_fact', { about: 'rocket', name: rocket, kind: 'photo', json: { of: 'find', flight, part, data } })
    },
    checkAltimeter: (id, apogee_m) => ask<HeightCheck>('check_altimeter', { id, apogee_m }),
  }
}
