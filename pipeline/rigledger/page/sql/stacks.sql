-- The stacks that sessions ran on.
SELECT stack, firmware_version, driver_version, card_firmware_version, os, os_build, profile
FROM stacks
ORDER BY stack
