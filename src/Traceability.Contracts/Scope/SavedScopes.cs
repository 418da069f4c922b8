namespace Traceability.Contracts.Scope;

/// <summary>A question for a scope to be saved under a name.</summary>
/// <param name="Title">What it is about, for a person; 1 to 200 characters.</param>
/// <param name="Suspect">What is suspected.</param>
public sealed record SaveScope(string Title, SuspectNode Suspect);

/// <summary>A saved question for a scope. Its answer is at /api/scopes/{name}/members, made anew whenever it is asked for.</summary>
/// <param name="Name">The name that it is saved under.</param>
/// <param name="Title">What it is about, for a person.</param>
/// <param name="Suspect">What is suspected.</param>
/// <param name="Words">The same in words.</param>
/// <param name="Author">The key that saved it last.</param>
/// <param name="SavedAt">When it was saved last.</param>
/// <param name="Version">How often it was saved; also its entity tag.</param>
public sealed record SavedScope(string Name, string Title, SuspectNode Suspect, string Words, string Author, DateTimeOffset SavedAt, int Version);

/// <summary>A page of the saved questions, by name.</summary>
/// <param name="Scopes">The questions.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
public sealed record SavedScopePage(IReadOnlyList<SavedScope> Scopes, string? After);
