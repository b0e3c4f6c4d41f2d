"""The coach's own room: is the rule set sound, and do its tests prove each rule?"""
