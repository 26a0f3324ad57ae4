-- One row a cell and low: the mean logarithms of its average frame rate and of the low; without cells that have a value in doubt.
SELECT rig, $metric AS metric, $low_ln AS low_ln, $average_ln AS average_ln
FROM handed.cells AS c
ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric IN ($metric, $average)
WHERE $low_ln IS NOT NULL AND $average_ln IS NOT NULL
