export const adjusted = () => null;
export const verdict = () => null;
export const grades = () => ['body','place','stance','toe','cover'].map((name)=>({name, title:name[0].toUpperCase()+name.slice(1), grade:null, reason:'Not measured yet.'}));
