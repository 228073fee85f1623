"""Is every rover set as the base is, and the base as the job wants it?"""
