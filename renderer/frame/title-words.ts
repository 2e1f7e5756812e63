/** Words of clips' names that are no titles, in small letters without accents; a plural with -s counts as its singular. */
const words = (text: string): ReadonlySet<string> => new Set(text.trim().split(/\s+/));

/** Voices and instruments in the languages of Europe's musicians. */
export const PART_WORDS = words(`
  satb soprano sopran soprane mezzo mezzosopran alto alt contralto altus countertenor tenor tenore baritone bariton
  baryton baritono bass basse basso bajo bas treble descant lead backing solo soloist tutti vocal singer gesang stimme
  oberstimme unterstimme voix chant voz voce
  piccolo flute flote blockflote querflote flauta flauto recorder oboe hautbois clarinet klarinette clarinette clarinete
  clarinetto bassoon fagott basson fagot fagotto sax saxophone saxophon saxofon sassofono horn waldhorn cor corno trompa
  trumpet trompete trompette trompeta tromba cornet kornett cornetto trombone posaune trombon euphonium tuba whistle
  violin violine geige violon violino viola bratsche cello violoncello violoncelle violonchelo contrabass doublebass
  kontrabass contrebasse contrabajo contrabbasso viol gamba gambe viole fiddle strings brass
  guitar gitarre guitare guitarra chitarra ukulele mandolin mandoline lute laute luth liuto banjo harp harfe harpe arpa
  piano klavier keyboard organ orgel orgue organo harpsichord cembalo clavecin clavicembalo accordion akkordeon accordeon
  harmonica synth drum schlagzeug batterie percussion cajon timpani pauken marimba xylophone vibraphone glockenspiel
`);

/** What phones and cameras write before their numbers, and what is no clip of the piece: a guide, a click. */
export const MAKER_WORDS = words(`
  img vid pxl mov rec dsc dscn dscf mvi mvimg gopr wa aud ptt mah memo recording aufnahme enregistrement grabacion
  registrazione untitled unbenannt guide click clicktrack metronome trial
`);

/** Words that count takes and copies where a number or nothing comes after them; else they may well belong to a title. */
export const COUNT_WORDS = words(
  't tk take try attempt version v ver part voice clip track copy kopie no nr number versuch',
);

/** Words that make no title alone, and are left out at the end of one. */
export const WEAK_WORDS = words(`
  the a an my our of and for in at on to by with from der die das den dem ein eine mein und mit von fur im am zu le la les
  un une mon et de du des avec pour par el los las y con il lo gli i di da e per
  new neu final best old raw clean cleaned edit edited cut trimmed mix test session sample export front rear cam camera
  phone left right mono stereo video film movie audio sound voice song track clip part take screen score sheet midi hd
`);

/** What a number belongs to that is kept with it: catalogues of works. */
export const CATALOGUE_WORDS = words('op opus woo bwv kv hwv rv twv');

/** Beside a year, or between two numbers, a date. */
export const MONTH_WORDS = words(`
  jan january januar feb february februar mar march marz apr april may mai jun june juni jul july juli aug august sep sept
  september oct october okt oktober nov november dec december dez dezember
`);

/** Folders in which clips of all sorts lie. */
export const CATCH_ALL_FOLDERS: ReadonlySet<string> = new Set([
  ...[
    'download',
    'desktop',
    'document',
    'dcim',
    'camera',
    'camera roll',
    'video',
    'movie',
    'music',
    'picture',
    'photo',
  ],
  ...['recording', 'voice memo', 'sound', 'audio', 'clip', 'media', 'file', 'tmp', 'temp', 'public', 'shared', 'inbox'],
  ...['new folder', 'untitled folder', 'my document', 'my video', 'my music', 'my picture', 'home', 'user', 'root'],
  ...['schreibtisch', 'dokumente', 'bilder', 'fotos', 'musik', 'aufnahmen', 'neuer ordner', 'offentlich'],
  ...['telechargement', 'bureau', 'image', 'musique', 'nouveau dossier', 'descarga', 'escritorio', 'documento'],
  ...['imagene', 'musica', 'nueva carpeta', 'scaricati', 'scrivania', 'documenti', 'immagini', 'filmati'],
  ...['transferencia', 'area de trabalho', 'imagen', 'ambiente de trabalho'],
]);
