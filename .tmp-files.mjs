import { parse } from 'csv-parse/sync';
const t = (s,o={})=>{try{const r=parse(s,{info:true,relax_column_count:true,record_delimiter:['\r\n','\n','\r'],...o});console.log(r.map(x=>[x.record,x.info.lines,x.info.bytes]))}catch(e){console.log(e.code,e.lines,e.message, e.bytes)}};
t('a,b\r\n1,2\r\n\r\n"x\r\ny",3\n"p\nq",r\n4,5');
t('a,b\n1,"2\n3,4\n');
t('a,b\n1,2\n3,4"5\n');
t('a,b\n1,2\n"3"x,45\n');
t('');
t('a\n');
t('\n\na,b\n');
