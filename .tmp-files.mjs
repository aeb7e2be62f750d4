import { CsvError, parse } from 'csv-parse/sync';
const t = (s,o={})=>{try{const r=parse(s,{info:true,raw:true,relax_column_count:true,record_delimiter:['\r\n','\n','\r'],...o});console.log(JSON.stringify(r.map(x=>[x.record,x.raw,x.info.bytes])))}catch(e){console.log(e.code,e.bytes,JSON.stringify(s.slice(0,e.bytes)))}};
t('a,b\r\n"x\r\ny",3\r\n1,2\r\n"q\r\n\r\n');t('a,b\r\n"x\r\ny",3\r\n1,q"\r\n\r\n');t('a,b\r\n"x\r\ny",3\r\n1,"\nq"z\r\n\r\n');t('"a,b\r\n');t('a,b\r\nx,y\r\nz,"\r\nz');
