/**
 * Media are bytes that do not fit into messages; both doors serve them under one prefix, `media/`, with byte ranges where a
 * file lies behind them. Routes (ids are take ids, or 'guide'; listen is before | after | takenAway):
 *
 * wave/<takeId>/<before|after>/<level>   a level of the waveform pyramid: Int16 little endian, pairs lowest, highest (full
 *                                        scale 32767) per WAVE_LEVEL_FRAMES[level] frames of the take's own rate
 * sound/<takeId>/<before|after>          float32 little endian, mono, the take's own rate and time line; for drawing single samples
 * stretch?from=F&frames=N&sources=ID:LISTEN,ID:LISTEN   planar float32: N frames from session frame F (48 kHz) of each
 *                                        source in turn, laid on the session's time line (zeros outside it); N up to 480000;
 *                                        ID may be voice:<voiceId> here: a voice as it is made of passages;
 *                                        LISTEN may be cleaned as well: after cleaning, before mending
 * spectrogram/<takeId>/<listen>?from=SEC&to=SEC&columns=C&rows=R   Uint8, column after column, R rows from low to high on a
 *                                        logarithmic scale from 40 Hz to 20 kHz; 0 is -120 dBFS or less, 255 is 0 dBFS
 * pitch/<voiceId>                        a voice's pitch as the newest report has it: float64 session time of the first value,
 *                                        float64 s from one to the next, then int16 tenths of a cent off the wanted pitch,
 *                                        -32768 where there is none; little endian
 * clip/<takeId>                          the clip itself, for its picture
 * proxy/<takeId>                        a small copy of its picture without sound, H.264; its time zero is the take's
 * picture/<file name>                    a file of the newest video
 * guide/<file name>                      a file of the newest guide that was made here
 * heard-guide                            the guide made for listening, WAV
 * trial/<trialId>                        a clip given to the sound check
 * render/<file name>                     a file of the newest render
 */
export const WAVE_LEVEL_FRAMES = [256, 4096, 65536] as const;
