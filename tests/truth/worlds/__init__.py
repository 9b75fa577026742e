"""Foreign worlds: boards drawn by a ray caster that shares nothing with the library nor with the demo's simulation."""
