process.stdout.write('Partsong\n');
