"""The coach's knowledge as data: vocabulary, words, rules, situations, sources, skills."""
