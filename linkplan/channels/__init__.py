"""Which channel, time slot and ID for which base, within the licence, and at what power?"""
