/**
 * What a volunteer reads on the desk form, its briefing and its safety card, in Spanish: NOT YET READ BY A NATIVE
 * SPEAKER.
 */
export const name = 'Espa\u00f1ol';
/** @type {string|null} */
export const caution = 'not yet read by a native speaker';
/** @type {typeof import('./en.js').words} */
export const words = {
  title: 'Su registro',
  intro: 'Solo los responsables leen sus tel\u00e9fonos, su nota de salud y su firma. Todo el equipo ve su nombre, su '
    + 'funci\u00f3n y si es menor de 18 a\u00f1os.',
  name: 'Su nombre',
  nameHint: 'como quiere que le llame el equipo',
  minor: '\u00bfEs menor de 18 a\u00f1os?',
  yes: 'S\u00ed',
  no: 'No',
  guardianTitle: 'Su padre, madre o tutor',
  guardianWhy: 'Esa persona firma abajo, y un adulto que est\u00e1 aqu\u00ed le acompa\u00f1a todo el d\u00eda. En la '
    + 'mesa le preguntan qui\u00e9n es.',
  guardianName: 'Nombre de su padre, madre o tutor',
  guardianPhone: 'Su tel\u00e9fono',
  phone: 'El tel\u00e9fono de usted',
  emergencyName: '\u00bfA qui\u00e9n llamamos en una emergencia?',
  emergencyPhone: 'Tel\u00e9fono de esa persona',
  medical: 'Salud: \u00bfqu\u00e9 debe saber hoy un responsable?',
  medicalHint: 'D\u00e9jelo vac\u00edo si no hay nada. Solo lo leen los responsables.',
  waiverTitle: 'Descargo de responsabilidad',
  waiverVersion: 'versi\u00f3n',
  noWaiver: 'En este aparato no hay texto del descargo. Pida en la mesa el de papel.',
  otherLanguage: 'Su instituci\u00f3n no ha dado este texto en espa\u00f1ol. Este es el que hay.',
  signedName: 'Firme con su nombre completo',
  signedNameGuardian: 'Su padre, madre o tutor firma con su nombre completo',
  draw: 'Y firme con el dedo en este recuadro',
  drawn: 'Firmado.',
  notDrawn: 'Todav\u00eda no hay nada dibujado.',
  clear: 'Borrar la firma',
  byNameOnly: 'No puedo dibujar. Mi nombre es mi firma, y en la mesa me ven firmar.',
  photos: '\u00bfPodemos usar fotos en las que usted aparece?',
  photosHint: 'Puede decir que no y participar igual.',
  briefingTitle: 'Antes de salir a la orilla',
  briefing: [
    'El responsable dice cu\u00e1ndo volvemos todos. Vuelva entonces, aunque falte trabajo.',
    'Qu\u00e9dese con su grupo y use el camino marcado de ida y vuelta. Nunca vaya solo.',
    'Las unidades pesan mucho. Lev\u00e1ntelas entre dos, con la espalda recta y guantes. El cemento fresco quema la '
      + 'piel: l\u00e1vela enseguida.',
    'Avise enseguida si tiene fr\u00edo, demasiado calor o se siente mal.',
    'Registre su salida en la mesa cuando se vaya.',
  ],
  cardTitle: 'Tarjeta de seguridad',
  noCard: 'Este lugar no tiene tarjeta de seguridad todav\u00eda. Pregunte a un responsable a qui\u00e9n llamar.',
  otherCard: 'Esta tarjeta no se ha dado en espa\u00f1ol. Esta es la que hay.',
  done: 'Listo',
  thanks: 'Gracias',
  giveBack: 'Devuelva este aparato en la mesa, por favor.',
  hold: 'Mesa: mantenga pulsado para volver',
  holdHint: 'Mantenga pulsado el bot\u00f3n dos segundos. O escriba el n\u00famero de la mesa:',
  number: 'N\u00famero de la mesa',
  open: 'Volver',
  wrongNumber: 'Ese no es el n\u00famero de la mesa.',
  language: 'Idioma',
  lacksName: 'Escriba primero su nombre.',
  lacksMinor: 'Diga si es menor de 18 a\u00f1os.',
  lacksGuardianName: 'Es menor de 18 a\u00f1os: escriba el nombre de su padre, madre o tutor.',
  lacksGuardianPhone: 'Es menor de 18 a\u00f1os: escriba el tel\u00e9fono de su padre, madre o tutor.',
  lacksSignedName: 'Firme el descargo con un nombre completo.',
  lacksGuardianSigned: 'Es menor de 18 a\u00f1os: su padre, madre o tutor firma el descargo con su nombre completo.',
  lacksDrawing: 'Firme con el dedo en el recuadro, o marque que no puede dibujar.',
  lacksPhotos: 'Diga s\u00ed o no a las fotos.',
};
