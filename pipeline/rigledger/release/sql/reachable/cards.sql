-- Cards of the rigs that are left.
SELECT * FROM cards WHERE card IN (SELECT card FROM rigs)
